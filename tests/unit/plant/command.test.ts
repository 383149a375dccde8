import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { afterAll, expect, test } from 'vitest';
import { command } from '../../../agent/commands/plant.ts';
import { CH1_POINTS } from '../../../agent/plant/kestrel-quay/ch1-points.ts';
import { CH2_POINTS } from '../../../agent/plant/kestrel-quay/ch2-points.ts';

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
  [['--chiller', 'CH-9'], /CH-9: there is only CH-1, CH-2/],
  [['--chiller', 'CH-1', '--speed', 'fast'], /--speed fast: give a number/],
  [['--chiller', 'CH-1', '--speed', '0'], /--speed 0/],
  [['--chiller', 'CH-1', '--start', 'noon'], /--start noon: write it like/],
  [['--chiller', 'CH-1', '--modbus', 'localhost'], /--modbus localhost: write HOST:PORT/],
  [['--chiller', 'CH-1', '--modbus', '127.0.0.1:70000'], /HOST:PORT/],
  [['--chiller', 'CH-1', '--bacnet', '127.0.0.2:0'], /the controller of CH-1 serves --modbus/],
  [['--chiller', 'CH-2', '--modbus', '127.0.0.1:0'], /the controller of CH-2 serves --bacnet/],
  [['--chiller', 'CH-2', '--bacnet', 'localhost:47808'], /IPv4 address of this machine, such as 127\.0\.0\.2:47808/],
  [['--chiller', 'CH-2', '--fault', 'worn_economizer_compressor:5@0'], /no economizer compressor/],
  [['--chiller', 'CH-1', '--fault', 'out_of_service/unit.power:1@0'], /is a register/],
  [['--chiller', 'CH-1', '--fault', 'undercharge:80@0'], /from 0 to 25/],
  [['--chiller', 'CH-1', '--fault', 'sticking_valve:2@0'], /name the valve/],
  [['--chiller', 'CH-1', '--hour', '25'], /--hour 25: give a number from 0 to 24/],
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

test("--points of CH-2: objects with the device's names for them", async () => {
  const { code, out } = await run('--chiller', 'CH-2', '--points');
  expect(code).toBe(0);
  const lines = out
    .trim()
    .split('\n')
    .map((line) => JSON.parse(line) as Record<string, unknown>);
  expect(lines).toHaveLength(CH2_POINTS.length);
  expect(lines.find(({ name }) => name === 'evaporator.pressure')).toEqual({
    name: 'evaporator.pressure',
    object: 'analog-input:11',
    property: 'present-value',
    object_name: 'EVAP-VAC',
    description: 'Evaporator vacuum',
    scale: 1,
    offset: 0,
    unit: 'inHg_vac',
    reference: 'vented_gauge',
    span: [-10, 30],
    uncertainty: '0.68 delta_kPa',
    uncertainty_kind: 'absolute',
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

/** Starts the command with a standard input that stays open. */
function held(...args: string[]) {
  const input = new PassThrough();
  const out = new PassThrough();
  const done = command.run(args, { in: input, out, err: new PassThrough(), stop: new AbortController().signal });
  return { input, done, first: new Promise<string>((resolve) => out.once('data', (chunk) => resolve(String(chunk)))) };
}

const UNTIL_EOF = ['--chiller', 'CH-1', '--modbus', '127.0.0.1:0', '--until-eof'];

test('--until-eof: it serves while standard input is open, whatever comes there, and ends with it', async () => {
  const { input, done, first } = held(...UNTIL_EOF);
  expect(JSON.parse(await first)).toHaveProperty('modbus');
  let ended = false;
  void done.then(() => {
    ended = true;
  });
  input.write('anything\n');
  await new Promise((resolve) => setImmediate(resolve));
  expect(ended).toBe(false);
  input.end();
  expect(await done).toBe(0);
});

test('--until-eof: an input that fails or is closed already ends it too', async () => {
  const { input, done, first } = held(...UNTIL_EOF);
  await first;
  input.destroy(new Error('torn'));
  expect(await done).toBe(0);
  const closed = new PassThrough();
  closed.destroy();
  const [out, err] = [new PassThrough(), new PassThrough()];
  expect(await command.run(UNTIL_EOF, { in: closed, out, err, stop: new AbortController().signal })).toBe(0);
});

test("--hour moves the day of load and weather, not the clock: at 4 o'clock little load, at 15 much", async () => {
  const load = async (hour: string) => {
    const truth = join(folder, `hour-${hour}.ndjson`);
    await run(
      ...['--chiller', 'CH-1', '--duration', '120', '--start', '2026-07-01T23:30:00Z'],
      ...['--hour', hour, '--truth', truth],
    );
    const [line = ''] = readFileSync(truth, 'utf8').split('\n');
    return JSON.parse(line) as { t: string; metrics: Record<string, number> };
  };
  const [night, noon] = [await load('4'), await load('15')];
  expect(night.t).toBe('2026-07-01T23:31:00Z');
  expect(noon.t).toBe(night.t);
  expect(noon.metrics['unit.load_fraction']! - night.metrics['unit.load_fraction']!).toBeGreaterThan(0.3);
});
