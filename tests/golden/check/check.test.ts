/**
 * Goal: whoever mapped a point wrongly is told which, how, and where it stands in the file; a good file is met with
 * silence. Method: a case is a folder with the slips made in the example site file (edits of its text) or faults of the
 * plant, and the findings that must come of it, no more and no fewer. The plant is a process of its own and `check`
 * reads it over its socket.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { PassThrough, Readable } from 'node:stream';
import { afterAll, describe, expect, test } from 'vitest';
import type { CheckedChiller } from '../../../agent/checking.ts';
import { command } from '../../../agent/commands/check.ts';

interface Edit {
  /** Point whose entry is edited; null: the machine's own. */
  readonly in: string | null;
  readonly from: string;
  readonly to: string;
}
interface Case {
  readonly why: string;
  /** Example that is edited; left out: the site of the demo. */
  readonly file?: string;
  readonly chiller: string;
  readonly edits: readonly Edit[];
  /** Arguments of the plant, mostly faults. */
  readonly plant?: readonly string[];
  readonly args?: readonly string[];
  readonly find: readonly {
    readonly code: string;
    readonly points: readonly string[];
    /** What stands on the line that each point's finding names. */
    readonly lines: readonly string[];
  }[];
}

const HERE = import.meta.dirname;
const ROOT = join(HERE, '../../..');
/** The machine behind the chiller of an example that is not the demo's. */
const MACHINE: Readonly<Record<string, string>> = { 'lantern-yard.yaml': 'CH-2' };
const FOLDER = mkdtempSync(join(tmpdir(), 'check-'));
const CASES = readdirSync(HERE, { withFileTypes: true })
  .filter((entry) => entry.isDirectory())
  .map(({ name }) => [name, JSON.parse(readFileSync(join(HERE, name, 'case.json'), 'utf8')) as Case] as const);

const plants = new Map<string, Promise<{ readonly child: ChildProcess; readonly place: string }>>();

/** One plant for all cases that want the same of it: a loaded afternoon. */
function plant({ chiller, file = '', plant: extra = [] }: Case): Promise<{ readonly place: string }> {
  const machine = MACHINE[file] ?? chiller;
  const key = [machine, ...extra].join(' ');
  const args = [
    join(ROOT, 'agent/main.ts'),
    'plant',
    '--chiller',
    machine,
    '--seed',
    '1',
    '--hour',
    '15',
    '--until-eof',
  ];
  let started = plants.get(key);
  if (started === undefined) {
    started = new Promise((resolve, reject) => {
      const child = spawn(process.execPath, [...args, ...extra], { stdio: ['pipe', 'pipe', 'inherit'] });
      createInterface({ input: child.stdout }).once('line', (line) => {
        const served = JSON.parse(line) as { modbus?: string; bacnet?: string };
        resolve({ child, place: served.modbus ?? (served.bacnet as string) });
      });
      child.once('exit', (code) => reject(new Error(`the plant ended with ${code}`)));
    });
    plants.set(key, started);
  }
  return started;
}

afterAll(async () => {
  for (const started of plants.values()) {
    const { child } = await started;
    const ended = new Promise((resolve) => child.once('exit', resolve));
    child.kill('SIGTERM');
    await ended;
  }
  rmSync(FOLDER, { recursive: true });
});

/** The example with the edits, each made exactly once within the entry of its point. */
function derived({ file = 'kestrel-quay.yaml', edits, chiller }: Case, place: string): string {
  let text = readFileSync(join(ROOT, 'config', file), 'utf8')
    .replace('port: 1502', `port: ${place.split(':')[1]}`)
    .replace('address: 127.0.0.2, port: 0', `address: '${place}', port: 0`)
    .replace('broadcast: 10.20.30.255', `address: ${place}\n        port: 0\n        timeout_ms: 20000`)
    // However busy the machine that runs the tests: a late reply is not what is tested here.
    .replaceAll('timeout_ms: 1000,', 'timeout_ms: 20000,');
  for (const { in: point, from, to } of edits) {
    const chillerAt = text.indexOf(`- id: ${chiller}`);
    const start = text.indexOf(point === null ? '    machine:\n' : `      ${point}:\n`, chillerAt);
    const next = (point === null ? /\n {0,4}\S/ : /\n {0,6}\S/).exec(text.slice(start + 8));
    const end = next === null ? text.length : start + 8 + next.index;
    const entry = text.slice(start, end + 1);
    expect(entry.split(from), `${point} has '${from}' once`).toHaveLength(2);
    text = `${text.slice(0, start)}${entry.replace(from, to)}${text.slice(end + 1)}`;
  }
  return text;
}

async function check(path: string, args: readonly string[]): Promise<{ code: number; out: string; err: string }> {
  const [out, err] = [new PassThrough(), new PassThrough()];
  const stop = new AbortController().signal;
  const code = await command.run(['--config', path, ...args], { in: Readable.from([]), out, err, stop });
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

describe.concurrent('check', () => {
  test('there are cases', () => expect(CASES.length).toBeGreaterThanOrEqual(25));

  test.each(CASES)('%s', async (name, given) => {
    const { place } = await plant(given);
    const text = derived(given, place);
    const path = join(FOLDER, `${name}.yaml`);
    writeFileSync(path, text);
    const args = ['--chiller', given.chiller, '--json', ...(given.args ?? ['--samples', '2', '--every', '0.3'])];
    let checked = await check(path, args);
    // A fault of the plant shows from its first step on: asked again until it has made it.
    while (given.plant !== undefined && given.plant.length > 0 && checked.code === 0) checked = await check(path, args);
    const { code, out, err } = checked;
    if (code === 2) throw new Error(err);
    const { findings } = JSON.parse(out) as CheckedChiller;
    const lines = text.split('\n');
    const told = findings.map(({ code: kind, points, places }) => ({
      code: kind,
      points,
      places: places.map((each) => {
        const [, file, line] = /^(.*):(\d+)$/.exec(each) ?? [];
        expect(file).toBe(path);
        return lines[Number(line) - 1];
      }),
    }));
    const expected = given.find.map(({ lines: on, ...rest }) => ({
      ...rest,
      places: on.map((part) => expect.stringContaining(part)),
    }));
    expect(told.sort(byCode), JSON.stringify(findings, null, 1)).toEqual(expected.sort(byCode));
    expect(code).toBe(given.find.length === 0 ? 0 : 1);
  });
});

function byCode(
  a: { code: string; points: readonly string[] },
  b: { code: string; points: readonly string[] },
): number {
  return `${a.code} ${a.points[0]}` < `${b.code} ${b.points[0]}` ? -1 : 1;
}
