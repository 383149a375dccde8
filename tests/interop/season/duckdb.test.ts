/**
 * Goal: a season is what an independent data base makes of the exported minutes. Method: stored minutes written out as
 * NDJSON, one line a minute, and summed by DuckDB's SQL, with its own time zones (ICU) for the local days; nothing of
 * the season room takes part on that side.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { type DuckDBConnection, DuckDBInstance } from '@duckdb/node-api';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { type SeasonFigure, season } from '../../../agent/season/season.ts';
import { daysOf, zoneOffsets } from '../../../agent/season/zone.ts';
import { fill, type Place, place } from '../../unit/season/stored.ts';

// Both changes of the clock of 2025 in Lisbon and in Chicago lie within.
const SPANS = [
  ['Europe/Lisbon', Date.UTC(2025, 2, 28), Date.UTC(2025, 2, 31, 23)],
  ['Europe/Lisbon', Date.UTC(2025, 9, 24, 23), Date.UTC(2025, 9, 28)],
  ['America/Chicago', Date.UTC(2025, 2, 8, 6), Date.UTC(2025, 2, 11, 5)],
  ['Asia/Kolkata', Date.UTC(2025, 9, 24, 18, 30), Date.UTC(2025, 9, 26, 18, 30)],
] as const;

let there: Place;
let folder: string;
let database: DuckDBInstance;
let duck: DuckDBConnection;

beforeAll(async () => {
  there = place();
  folder = mkdtempSync(path.join(tmpdir(), 'minutes-'));
  database = await DuckDBInstance.create(':memory:');
  duck = await database.connect();
  let sequence = 0;
  for (const [from, to] of [
    [Date.UTC(2025, 2, 8), Date.UTC(2025, 2, 12)],
    [Date.UTC(2025, 2, 27), Date.UTC(2025, 3, 1)],
    [Date.UTC(2025, 9, 24), Date.UTC(2025, 9, 29)],
  ] as const)
    sequence = fill(there.history, { from, to, sequence });
});
afterAll(() => {
  duck.closeSync();
  database.closeSync();
  there.remove();
  rmSync(folder, { recursive: true });
});

/** The minutes of a span as a view `minutes`: end, seconds and a column for each figure. */
async function exported(from: number, to: number): Promise<void> {
  const file = path.join(folder, `${from}.ndjson`);
  const lines = [...there.history.minutes({ chiller: 'CH-1', from: from + 1, to })].map(({ time, record }) => {
    const { interval_s, state, economizer, values, uncertainty } = JSON.parse(record) as {
      interval_s: number;
      state: string;
      economizer: string;
      values: Record<string, number | null>;
      uncertainty: Record<string, number>;
    };
    return JSON.stringify({
      ended: time,
      s: interval_s,
      state,
      economizer,
      p: values['unit.power'] ?? null,
      q: values['unit.capacity'] ?? null,
      load: values['unit.load_fraction'] ?? null,
      saved: values['economizer.power_saved'] ?? null,
      missed: values['economizer.missed_saving'] ?? null,
      main: values['main_compressor.power'] ?? null,
      up: uncertainty['unit.power'] ?? null,
      uq: uncertainty['unit.capacity'] ?? null,
    });
  });
  writeFileSync(file, lines.join('\n'));
  await duck.run(`
    CREATE OR REPLACE VIEW minutes AS
    SELECT *, p IS NOT NULL AND q IS NOT NULL AND state <> 'standstill' AS used
    FROM read_json('${file}', format = 'newline_delimited', columns = {
      ended: 'BIGINT', s: 'DOUBLE', state: 'VARCHAR', economizer: 'VARCHAR', p: 'DOUBLE', q: 'DOUBLE', load: 'DOUBLE',
      saved: 'DOUBLE', missed: 'DOUBLE', main: 'DOUBLE', up: 'DOUBLE', uq: 'DOUBLE'
    })`);
}

type Row = Record<string, number | string | null>;

async function rows(sql: string): Promise<Row[]> {
  return (await duck.runAndReadAll(sql)).getRowObjectsJson() as Row[];
}

function ours(zone: string, from: number, to: number): SeasonFigure {
  const days = daysOf({ from, to }, zoneOffsets(zone));
  const sums = must(there.history.seasonSums({ chiller: 'CH-1', spans: days }));
  return season({ chiller: 'CH-1', time_zone: zone, tariff: null, from, to, days, sums });
}

function near(found: number | null | undefined, wanted: unknown): void {
  expect(found).not.toBeNull();
  expect(Math.abs((found as number) - Number(wanted))).toBeLessThan(1e-9 * Math.max(1, Math.abs(Number(wanted))));
}

// One ton is 12000 Btu/h, the international table Btu of 1055.05585262 J.
const TON = '(12000 * 1055.05585262 / 3600 / 1000)';

test.each(SPANS)('%s from %d to %d: totals', async (zone, from, to) => {
  await exported(from, to);
  const figure = ours(zone, from, to);
  const [sql] = await rows(`
    SELECT sum(p * s) FILTER (used) / 3600 AS kwh, sum(q * s) FILTER (used) / 3600 / ${TON} AS ton_hours,
      sum(p * s) FILTER (used) / sum(q * s) FILTER (used) * ${TON} AS kw_per_ton,
      sum(s) FILTER (used) / 60 AS used, sum(s) FILTER (state = 'standstill') / 60 AS standing,
      sum(p * s) FILTER (state = 'standstill') / 3600 AS kwh_standing,
      sum(up * s) FILTER (used) / 3600 AS u_kwh, sum(uq * s) FILTER (used) / 3600 / ${TON} AS u_ton_hours,
      sum(saved * s) FILTER (state <> 'standstill') / 3600 AS saved,
      sum(missed * s) FILTER (state <> 'standstill') / 3600 AS missed,
      sum(main * s) FILTER (state <> 'standstill') / 3600 AS main
    FROM minutes`);
  near(figure.kwh, sql?.['kwh']);
  near(figure.ton_hours, sql?.['ton_hours']);
  near(figure.kw_per_ton, sql?.['kw_per_ton']);
  near(figure.minutes_used, sql?.['used']);
  near(figure.minutes_standing, sql?.['standing']);
  near(figure.kwh_standing, sql?.['kwh_standing']);
  near(figure.uncertainty.kwh, sql?.['u_kwh']);
  near(figure.uncertainty.ton_hours, sql?.['u_ton_hours']);
  near(figure.economizer.saved.kwh, sql?.['saved']);
  near(figure.economizer.missed.kwh, sql?.['missed']);
  near(figure.compressors.main_compressor.kwh, sql?.['main']);
});

test.each(SPANS)('%s from %d to %d: local days by the data base of its own', async (zone, from, to) => {
  await exported(from, to);
  const { days } = ours(zone, from, to);
  const sql = await rows(`
    SELECT strftime(timezone('${zone}', to_timestamp((ended - 1) / 1000.0)), '%Y-%m-%d') AS day,
      coalesce(sum(p * s) FILTER (used), 0) / 3600 AS kwh, coalesce(sum(s) FILTER (used), 0) / 60 AS used
    FROM minutes GROUP BY day ORDER BY day`);
  expect(days.map(({ name }) => name)).toEqual(sql.map(({ day }) => day));
  sql.forEach(({ kwh, used }, index) => {
    near(days[index]?.kwh, kwh);
    near(days[index]?.minutes_used, used);
  });
});

test('bins of load, and the loads of the part-load value', async () => {
  const [zone, from, to] = SPANS[1];
  await exported(from, to);
  const figure = ours(zone, from, to);
  const bins = await rows(`
    SELECT floor(load * 10 + 1e-9) AS bin, sum(p * s) / sum(q * s) * ${TON} AS kw_per_ton, sum(s) / 60 AS minutes
    FROM minutes WHERE used GROUP BY bin ORDER BY bin`);
  expect(figure.bins.load.length).toBe(bins.length);
  bins.forEach(({ bin, kw_per_ton, minutes }, index) => {
    near(figure.bins.load[index]?.from, Number(bin) / 10);
    near(figure.bins.load[index]?.kw_per_ton, kw_per_ton);
    near(figure.bins.load[index]?.minutes, minutes);
  });
  const [sql] = await rows(`
    WITH bands AS (
      SELECT weight, sum(p * s) / sum(q * s) * ${TON} AS k
      FROM minutes JOIN (VALUES (1.0, 0.01), (0.75, 0.42), (0.5, 0.45), (0.25, 0.12)) AS rated(at_load, weight)
        ON abs(load - at_load) < 0.125
      WHERE used GROUP BY weight
    ) SELECT 1 / sum(weight / k) AS value, count(*) AS n FROM bands`);
  expect(Number(sql?.['n'])).toBe(4);
  near(figure.part_load.kw_per_ton, sql?.['value']);
});
