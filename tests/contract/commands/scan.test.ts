/**
 * Goal: `scan` finds on a real bus what is there and asks no more than it says; its draft is a site file. Method: the
 * emulated controllers as processes of their own, `scan` over their sockets, and its draft given to `check`.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { PassThrough, Readable } from 'node:stream';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { CheckedChiller } from '../../../agent/checking.ts';
import { command as check } from '../../../agent/commands/check.ts';
import type { Command } from '../../../agent/commands/io.ts';
import { command as scan } from '../../../agent/commands/scan.ts';
import type { FoundRegister } from '../../../agent/scanning.ts';

const MAIN = new URL('../../../agent/main.ts', import.meta.url).pathname;
const FOLDER = mkdtempSync(join(tmpdir(), 'scan-'));
const children: ChildProcess[] = [];
let modbus = '';
let bacnet = '';

async function plant(...args: string[]): Promise<string> {
  const all = [MAIN, 'plant', '--seed', '1', '--hour', '15', '--until-eof', ...args];
  const child = spawn(process.execPath, all, { stdio: ['pipe', 'pipe', 'inherit'] });
  children.push(child);
  const line = await new Promise<string>((resolve) => createInterface({ input: child.stdout }).once('line', resolve));
  const served = JSON.parse(line) as { modbus?: string; bacnet?: string };
  return served.modbus ?? (served.bacnet as string);
}

beforeAll(async () => {
  [modbus, bacnet] = await Promise.all([
    plant('--chiller', 'CH-1', '--modbus', '127.0.0.1:0'),
    plant('--chiller', 'CH-2', '--bacnet', '127.0.0.2:0'),
  ]);
});
afterAll(async () => {
  for (const child of children) {
    const ended = new Promise((resolve) => child.once('exit', resolve));
    child.kill('SIGTERM');
    await ended;
  }
  rmSync(FOLDER, { recursive: true });
});

async function run(command: Command, ...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const [out, err] = [new PassThrough(), new PassThrough()];
  const code = await command.run(args, { in: Readable.from([]), out, err, stop: new AbortController().signal });
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

const records = <T>(text: string): T[] =>
  text
    .trim()
    .split('\n')
    .map((line) => JSON.parse(line) as T);

describe('Modbus', () => {
  test('finds every register of a range, takes refused blocks apart, and says what floats could be', async () => {
    const asked = ['--modbus', modbus, '--from', '95', '--to', '150', '--table', 'holding', '--pause', '50', '--json'];
    const { code, out } = await run(scan, ...asked);
    expect(code).toBe(0);
    const found = records<FoundRegister>(out);
    // The controller's map has holding registers 100 to 149 with gaps; what lies outside is refused.
    expect(found.map(({ register }) => register)).toEqual(expect.arrayContaining([100, 101, 110, 149]));
    expect(found.every(({ register }) => register >= 100 && register <= 149)).toBe(true);
    const leaving = found.find(({ register }) => register === 101);
    expect((leaving?.int16 ?? 0) / 100).toBeGreaterThan(4);
    expect((leaving?.int16 ?? 0) / 100).toBeLessThan(10);
  });

  test('a float of the meter is shown in the order that makes sense', async () => {
    const asked = ['--modbus', modbus, '--unit', '2', '--table', 'input', '--to', '13', '--pause', '50', '--json'];
    const found = records<FoundRegister>((await run(scan, ...asked)).out);
    expect(found[0]?.float_CDAB).toBeGreaterThan(300);
    expect(found[0]?.float_CDAB).toBeLessThan(1500);
  });

  test('ends at its bound of requests and says where', async () => {
    const asked = ['--modbus', modbus, '--to', '999', '--pause', '50', '--requests', '5'];
    const { err } = await run(scan, ...asked);
    expect(err).toMatch(/5 requests are spent at holding \d+: go on from there with --from/);
  });

  test('nothing there is said, and is exit code 1', async () => {
    const { code, err } = await run(scan, '--modbus', '127.0.0.1:1', '--to', '10');
    expect(code).toBe(1);
    expect(err).toContain('nothing answers: unit 1 at holding 0: connection refused');
  });
});

describe('BACnet/IP', () => {
  test('lists the objects with names and units, and likely points', async () => {
    const { code, out } = await run(scan, '--bacnet', '--address', bacnet, '--timeout', '500');
    expect(code).toBe(0);
    expect(out).toMatch(/^Device \d+ at 127\.0\.0\.2:\d+, vendor number \d+: \d+ objects$/m);
    expect(out).toMatch(
      /analog-input:2 +CHW-LWT +Chilled water leaving +degrees-fahrenheit +chilled_water\.leaving_temperature/,
    );
  });

  test('its draft, with the machine filled in, is a site that check finds nothing odd in but what the draft could not know', async () => {
    const file = join(FOLDER, 'draft.yaml');
    const asked = ['--bacnet', '--address', bacnet, '--timeout', '500', '--draft', file];
    expect((await run(scan, ...asked)).code).toBe(0);
    const again = await run(scan, ...asked);
    expect(again.code).toBe(1);
    expect(again.err).toContain('is not overwritten');
    const filled = readFileSync(file, 'utf8')
      .replace('refrigerant: R134a', 'refrigerant: R1233zdE')
      .replace('arrangement: simple', 'arrangement: interstage')
      .replace('rated_capacity: 500 ton', 'rated_capacity: 900 ton');
    writeFileSync(file, filled);
    const { code, out } = await run(check, '--config', file, '--json', '--samples', '2', '--every', '0.3');
    const { findings } = JSON.parse(out) as CheckedChiller;
    // No object says whether its pressure is absolute; the draft writes gauge with a '?', and the tank's is not.
    expect(findings.map(({ code: kind, points }) => [kind, points])).toEqual([
      ['absolute_as_gauge', ['flash_tank.pressure']],
    ]);
    expect(code).toBe(1);
  });

  test('instances that nobody has: exit code 1, and no draft', async () => {
    const file = join(FOLDER, 'none.yaml');
    const asked = ['--address', bacnet, '--range', '1-5', '--timeout', '200', '--draft', file];
    const { code, out } = await run(scan, '--bacnet', ...asked);
    expect([code, out]).toEqual([1, 'No device answered.\n']);
    expect(existsSync(file)).toBe(false);
  });
});

test.each([
  [[], 'either --modbus HOST or --bacnet'],
  [['--modbus', 'h', '--bacnet'], 'either --modbus HOST or --bacnet'],
  [['--modbus', 'h', '--table', 'holdings'], '--table holdings'],
  [['--modbus', 'h', '--from', '9', '--to', '3'], '--from must not be above --to'],
  [['--modbus', 'h', '--pause', '0'], '--pause 0'],
  [['--bacnet', '--range', '5'], '--range 5'],
  [['--modbus', 'h', '--fast'], '--fast'],
])('a wrong call (%j) is exit code 2 with the reason', async (args, words) => {
  const { code, err } = await run(scan, ...args);
  expect(code).toBe(2);
  expect(err).toContain(words);
});
