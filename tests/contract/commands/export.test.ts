/**
 * Goal: what `export` writes is the history: a row for each stored minute, and figures of which a data base makes the
 * season. Method: some days over the end of summer time in Lisbon (26 October 2025, 01:00 UTC: IANA time zone data
 * base, rule EU) in a store that a writer holds open; both formats read by DuckDB with readers of its own.
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { PassThrough, Readable, Writable } from 'node:stream';
import { type DuckDBConnection, DuckDBInstance } from '@duckdb/node-api';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { command as exportVerb } from '../../../agent/commands/export.ts';
import type { Command } from '../../../agent/commands/io.ts';
import { command as season } from '../../../agent/commands/season.ts';
import type { SeasonFigure } from '../../../agent/season/season.ts';
import { fill, given, type Place, place, QUARTER } from '../../unit/season/stored.ts';

const MAIN = new URL('../../../agent/main.ts', import.meta.url).pathname;
const FROM = Date.UTC(2025, 9, 24, 23); // 25 October, 00:00 in Lisbon
const TO = Date.UTC(2025, 9, 28); // 28 October, 00:00 in Lisbon
const DAYS = ['--chiller', 'CH-1', '--from', '2025-10-25', '--to', '2025-10-27'];
const NAMES = ['unit.power', 'unit.capacity', 'unit.kw_per_ton', 'economizer.power_saved'];

let there: Place;
let folder: string;
let database: DuckDBInstance;
let duck: DuckDBConnection;

beforeAll(async () => {
  there = place();
  folder = mkdtempSync(path.join(tmpdir(), 'export-'));
  fill(there.history, { from: FROM - 40 * QUARTER, to: TO + 40 * QUARTER });
  database = await DuckDBInstance.create(':memory:');
  duck = await database.connect();
});
afterAll(() => {
  duck.closeSync();
  database.closeSync();
  there.remove();
  rmSync(folder, { recursive: true });
});

async function run(verb: Command, ...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const [out, err] = [new PassThrough(), new PassThrough()];
  const chunks: Buffer[] = [];
  out.on('data', (chunk: Buffer) => chunks.push(chunk));
  const code = await verb.run(['--config', there.config, ...args], {
    in: Readable.from([]),
    out,
    err,
    stop: new AbortController().signal,
  });
  return { code, out: Buffer.concat(chunks).toString('utf8'), err: String(err.read() ?? '') };
}

type Row = Record<string, number | string | null>;

async function rows(sql: string): Promise<Row[]> {
  return (await duck.runAndReadAll(sql)).getRowObjectsJson() as Row[];
}

/** An export as the view `minutes`: ended (ms), s, state, and power, capacity, saved with their uncertainties. */
async function exported(format: 'csv' | 'ndjson'): Promise<void> {
  const { code, out, err } = await run(exportVerb, ...DAYS, '--metrics', NAMES.join(), '--format', format);
  expect([code, err]).toEqual([0, expect.stringMatching(/^\d+ minutes of CH-1, /)]);
  const file = path.join(folder, `minutes.${format}`);
  writeFileSync(file, out);
  const figure = (name: string, key: string) =>
    format === 'ndjson'
      ? `figures->'${name}'->>'${key}'`
      : key === 'value'
        ? `"${name} [kW]"`
        : `"${name} ${key} [kW]"`;
  const source =
    format === 'csv'
      ? `read_csv('${file}', header = true)`
      : `read_json('${file}', format = 'newline_delimited', columns = {time: 'TIMESTAMPTZ', local_time: 'VARCHAR',
           chiller: 'VARCHAR', sequence: 'BIGINT', interval_s: 'DOUBLE', state: 'VARCHAR', figures: 'JSON'})`;
  await duck.run(`
    CREATE OR REPLACE VIEW minutes AS
    SELECT epoch_ms(time::TIMESTAMPTZ) AS ended, local_time::VARCHAR AS local_time, chiller, sequence, interval_s AS s, state,
      (${figure('unit.power', 'value')})::DOUBLE AS p, (${figure('unit.capacity', 'value')})::DOUBLE AS q,
      (${figure('economizer.power_saved', 'value')})::DOUBLE AS saved,
      (${figure('unit.power', 'uncertainty')})::DOUBLE AS up
    FROM ${source}`);
}

function near(found: number | null | undefined, wanted: unknown): void {
  expect(found).not.toBeNull();
  expect(Math.abs((found as number) - Number(wanted))).toBeLessThan(1e-9 * Math.max(1, Math.abs(Number(wanted))));
}

// One ton is 12000 Btu/h, the international table Btu of 1055.05585262 J.
const TON = '(12000 * 1055.05585262 / 3600 / 1000)';

test.each(['csv', 'ndjson'] as const)(
  '%s: a row for each stored minute, and the sums of the season',
  async (format) => {
    await exported(format);
    const stored = [...there.history.minutes({ chiller: 'CH-1', from: FROM + 1, to: TO })];
    const found = await rows('SELECT ended, sequence, chiller FROM minutes');
    expect(found.map(({ ended, sequence, chiller }) => [Number(ended), Number(sequence), chiller])).toEqual(
      stored.map(({ time, sequence }) => [time, sequence, 'CH-1']),
    );
    const { out } = await run(season, ...DAYS, '--json');
    const figure = JSON.parse(out) as SeasonFigure;
    const [sql] = await rows(`
    SELECT sum(p * s) FILTER (used) / 3600 AS kwh, sum(q * s) FILTER (used) / 3600 / ${TON} AS ton_hours,
      sum(s) FILTER (used) / 60 AS used, sum(s) FILTER (state = 'standstill') / 60 AS standing,
      sum(saved * s) FILTER (state <> 'standstill') / 3600 AS saved, sum(up * s) FILTER (used) / 3600 AS u_kwh
    FROM (SELECT *, p IS NOT NULL AND q IS NOT NULL AND state <> 'standstill' AS used FROM minutes)`);
    near(figure.kwh, sql?.['kwh']);
    near(figure.ton_hours, sql?.['ton_hours']);
    near(figure.minutes_used, sql?.['used']);
    near(figure.minutes_standing, sql?.['standing']);
    near(figure.economizer.saved.kwh, sql?.['saved']);
    near(figure.uncertainty.kwh, sql?.['u_kwh']);
  },
);

test('local times are those of the zone by the data base of its own, over the change of the clock', async () => {
  await exported('ndjson');
  const wrong = await rows(`
    SELECT ended, local_time FROM minutes
    WHERE local_time[1:19] <> strftime(timezone('Europe/Lisbon', to_timestamp(ended / 1000.0)), '%Y-%m-%dT%H:%M:%S')
      OR epoch_ms(local_time::TIMESTAMPTZ) <> ended`);
  expect(wrong).toEqual([]);
  const offsets = await rows('SELECT DISTINCT local_time[20:] AS zone FROM minutes ORDER BY zone');
  expect(offsets.map(({ zone }) => zone)).toEqual(['+00:00', '+01:00']);
});

test('header with units; quality and uncertainty stand beside each value; missing is empty, never 0', async () => {
  const { out } = await run(exportVerb, ...DAYS, '--metrics', 'unit.capacity,evaporator.approach');
  const [head, ...lines] = out.trimEnd().split('\n');
  expect(head).toBe(
    'time,local_time,chiller,sequence,interval_s,state,' +
      'unit.capacity [kW],unit.capacity uncertainty [kW],unit.capacity quality,' +
      'evaporator.approach [K],evaporator.approach uncertainty [K],evaporator.approach quality',
  );
  for (const line of lines) {
    const [time = '', , , , , state, capacity, uncertainty, quality, ...never] = line.split(',');
    const wanted = given(Date.parse(time));
    expect([state, capacity === '' ? null : Number(capacity)]).toEqual([wanted?.state ?? 'steady', wanted?.capacity]);
    expect(uncertainty === '').toBe(capacity === '');
    expect(quality).toBe(wanted?.doubts?.includes('unit.capacity') ? 'uncertain' : 'good');
    // No minute of this store knows it.
    expect(never).toEqual(['', '', '']);
  }
});

test('NDJSON says why a figure is not good', async () => {
  const { out } = await run(exportVerb, ...DAYS, '--metrics', 'unit.capacity', '--json');
  const lines = out
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as { figures: Record<string, object> });
  expect(lines.map(({ figures }) => figures['unit.capacity'])).toContainEqual({
    value: expect.any(Number),
    unit: 'kW',
    uncertainty: expect.any(Number),
    quality: 'uncertain',
    reason: 'not steady',
  });
});

test('as a process, beside the writer; a reader that goes away early ends it quietly', () => {
  const args = [MAIN, 'export', '--config', there.config, ...DAYS];
  const whole = spawnSync(process.execPath, args, { encoding: 'utf8', maxBuffer: 1 << 28 });
  expect(whole.status).toBe(0);
  const stored = [...there.history.minutes({ chiller: 'CH-1', from: FROM + 1, to: TO })];
  expect(whole.stdout.trimEnd().split('\n').length).toBe(1 + stored.length);
  const head = spawnSync('sh', ['-c', '"$0" "$@" | head -n 2', process.execPath, ...args], { encoding: 'utf8' });
  expect(head.status).toBe(0);
  expect(head.stdout.split('\n').length).toBe(3);
  expect(head.stderr).not.toContain('Error');
});

test('a slow reader is waited for: what is ahead of it in memory is bounded', async () => {
  const other = place();
  onTestFinished(() => other.remove());
  fill(other.history, { from: FROM - 20 * 96 * QUARTER, to: TO });
  let [ahead, written] = [0, 0];
  const out = new Writable({
    highWaterMark: 1024,
    write(chunk: Buffer, _encoding, done) {
      written += chunk.length;
      ahead = Math.max(ahead, this.writableLength);
      setImmediate(done);
    },
  });
  const args = ['--config', other.config, '--chiller', 'CH-1', '--from', '2025-10-05', '--to', '2025-10-27'];
  const io = { in: Readable.from([]), out, err: new PassThrough(), stop: new AbortController().signal };
  expect(await exportVerb.run(args, io)).toBe(0);
  expect(written).toBeGreaterThan(1_000_000);
  expect(ahead).toBeLessThan(200_000);
});

test.each([
  [['--metrics', 'unit.pover'], "the nearest is 'unit.power'"],
  [['--format', 'xml'], '--format xml'],
  [['--from', '2025-02-30'], '2025-02-30'],
  [['--chiller', 'CH-9'], 'there are CH-1'],
])('wrong call %j', async (args, words) => {
  const { code, out, err } = await run(exportVerb, ...args);
  expect([code, out]).toEqual([2, '']);
  expect(err.split('\n')[0]).toContain(words);
});
