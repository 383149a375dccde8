import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { afterAll, expect, test } from 'vitest';
import { command } from '../../../agent/commands/plant.ts';
import { CH1_POINTS } from '../../../agent/plant/kestrel-quay/ch1-points.ts';

const folder = mkdtempSync(join(tmpdir(), 'plant-'));
afterAll(() => rmSync(folder, { recursive: true }));

async function run(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const out = new PassThrough();
  const err = new PassThrough();
  const code = await command.run(args, { in: Readable.from([]), out, err, stop: new AbortController().signal });
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

test.each([
  [[], /--chiller is missing; it is one of CH-1/],
  [['--chiller', 'CH-9'], /CH-9: there is only CH-1/],
  [['--chiller', 'CH-1', '--speed', 'fast'], /--speed fast: give a number/],
  [['--chiller', 'CH-1', '--speed', '0'], /--speed 0/],
  [['--chiller', 'CH-1', '--start', 'noon'], /--start noon: write it like/],
  [['--chiller', 'CH-1', '--modbus', 'localhost'], /--modbus localhost: write HOST:PORT/],
  [['--chiller', 'CH-1', '--modbus', '127.0.0.1:70000'], /HOST:PORT/],
  [['--chiller', 'CH-1', '--fault', 'sticking_valve:2@0'], /name the valve/],
  [['--chiller', 'CH-1', '--colour', 'red'], /--colour/],
])('%j is wrong usage: exit 2, and says why', async (args, message) => {
  const { code, err, out } = await run(...args);
  expect(code).toBe(2);
  expect(err).toMatch(message);
  expect(out).toBe('');
});

test('--points prints one line a point', async () => {
  const { code, out } = await run('--chiller', 'CH-1', '--points');
  expect(code).toBe(0);
  const lines = out
    .trim()
    .split('\n')
    .map((line) => JSON.parse(line) as Record<string, unknown>);
  expect(lines).toHaveLength(CH1_POINTS.length);
  expect(lines.find(({ name }) => name === 'evaporator.pressure')).toMatchObject({
    unit_id: 1,
    table: 'holding',
    register: 110,
    type: 'int16',
    scale: 0.1,
    offset: 0,
    unit: 'psig',
    reference: 'vented_gauge',
    uncertainty: '0.5 delta_psi',
  });
});

test('headless: truth and record files of the same minutes', async () => {
  const [truth, record] = [join(folder, 'truth.ndjson'), join(folder, 'record.ndjson')];
  const { code } = await run(
    ...['--chiller', 'CH-1', '--duration', '600', '--start', '2026-07-01T12:00:00Z'],
    ...['--truth', truth, '--record', record],
  );
  expect(code).toBe(0);
  const lines = (file: string) =>
    readFileSync(file, 'utf8')
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line) as { t?: string; time?: string });
  expect(lines(truth).map(({ t }) => t)).toHaveLength(10);
  expect(lines(record).map(({ time }) => time)).toEqual(lines(truth).map(({ t }) => t));
});

test('a file that cannot be written: exit 1, and names it', async () => {
  const file = join(folder, 'no', 'such', 'folder.ndjson');
  const { code, err } = await run('--chiller', 'CH-1', '--duration', '60', '--truth', file);
  expect(code).toBe(1);
  expect(err).toContain(file);
});
