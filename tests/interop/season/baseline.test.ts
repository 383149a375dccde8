/**
 * Goal: what a machine took against its baseline, and the money, are what an independent data base makes of exported
 * minutes with the formula and the parameters that the season publishes. Method: hours of an independent machine in a
 * real store, written out as NDJSON, put through DuckDB's SQL with its own time zones; over the end of summer time.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { type DuckDBConnection, DuckDBInstance } from '@duckdb/node-api';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { type ChillerSeason, chillerSeason } from '../../../agent/season/answer.ts';
import { askedPeriod, readChiller, readReference } from '../../../agent/seasons.ts';
import { filled } from '../../unit/season/filled.ts';
import type { Place } from '../../unit/season/stored.ts';

const FROM = Date.UTC(2025, 7, 31, 23);
const TO = Date.UTC(2025, 10, 5);
const CHANGE = Date.UTC(2025, 9, 15);

let there: Place;
let folder: string;
let database: DuckDBInstance;
let duck: DuckDBConnection;
let season: ChillerSeason;

beforeAll(async () => {
  there = filled(
    { from: FROM, to: TO, factor: (_, time) => (time > CHANGE ? 1.03 : 1) },
    { from: '2025-09-01', to: '2025-10-14' },
  );
  const read = await loadSite(there.config, { env: {} });
  if (!read.ok) throw new Error('a site file');
  const site = read.value;
  const [chiller] = site.chillers;
  if (chiller === undefined) throw new Error('a chiller');
  const period = must(askedPeriod(site, { from: '2025-10-15', to: '2025-10-31', step: 'day', now: TO }));
  const reference = must(readReference(there.history, { site, chiller, now: TO }));
  const query = must(readChiller(there.history, { site, chiller, period, step: 'day', now: TO, reference }));
  ({ season } = chillerSeason(query));
  folder = mkdtempSync(path.join(tmpdir(), 'hours-'));
  const lines = [...there.history.minutes({ chiller: 'CH-1', from: FROM, to: TO })].map(({ time, record }) => {
    const { interval_s, state, values, points } = JSON.parse(record) as {
      interval_s: number;
      state: string;
      values: Record<string, number | null>;
      points: Record<string, number | null>;
    };
    return JSON.stringify({
      ended: time,
      s: interval_s,
      state,
      p: values['unit.power'] ?? null,
      q: values['unit.capacity'] ?? null,
      cold: points['chilled_water.leaving_temperature'] ?? null,
      warm: points['condenser_water.entering_temperature'] ?? null,
    });
  });
  const file = path.join(folder, 'minutes.ndjson');
  writeFileSync(file, lines.join('\n'));
  database = await DuckDBInstance.create(':memory:');
  duck = await database.connect();
  await duck.run(`CREATE VIEW minutes AS SELECT *, strftime(timezone('Europe/Lisbon',
      to_timestamp((ended - s * 1000) / 1000.0)), '%Y-%m-%d') AS day
    FROM read_json('${file}', format = 'newline_delimited', columns = {
      ended: 'BIGINT', s: 'DOUBLE', state: 'VARCHAR', p: 'DOUBLE', q: 'DOUBLE', cold: 'DOUBLE', warm: 'DOUBLE'
    })`);
});
afterAll(() => {
  duck?.closeSync();
  database?.closeSync();
  there?.remove();
  rmSync(folder, { recursive: true, force: true });
});

/** The published formula with the published parameters, as SQL over kW and K. */
function formula({ model, parameters }: NonNullable<ChillerSeason['baseline']>['fits'][number]): string {
  const of = (name: string): string => `(${parameters[name]})`;
  const [Ti, To] = ['(warm + 273.15)', '(cold + 273.15)'];
  if (model === 'gordon_ng')
    return `((${Ti} * q + ${of('a1')} * ${To} * ${Ti} + ${of('a2')} * (${Ti} - ${To})) / (${To} - ${of('a3')} * q) - q)`;
  const d = '((warm - cold) / 10)';
  const load = '(q / 1000)';
  return `(${of('b0')} + ${of('b1')} * ${load} + ${of('b2')} * ${load} * ${load} + ${of('b3')} * ${d} + ${of('b4')} * ${d} * ${d} + ${of('b5')} * ${load} * ${d})`;
}

function near(found: number | null | undefined, wanted: unknown): void {
  expect(found).not.toBeNull();
  expect(Math.abs(Number(found) / Number(wanted) - 1)).toBeLessThan(1e-9);
}

test('measured and expected energy, deviation and money of every local day', async () => {
  const fit = season.baseline?.fits[0];
  if (fit === undefined || season.baseline === null) throw new Error('a fit');
  // What lies beyond the fitted range is left out by the season's own range, told in hours.
  const rows = (
    await duck.runAndReadAll(`
      WITH range AS (
        SELECT min(q) AS q0, max(q) AS q1, min(warm - cold) AS d0, max(warm - cold) AS d1 FROM minutes
        WHERE state = 'steady' AND day >= '2025-09-01' AND day <= '2025-10-14'
      )
      SELECT day, sum(p * s) / 3600 AS kwh, sum(${formula(fit)} * s) / 3600 AS expected, sum(s) / 3600 AS hours,
        sum((p - ${formula(fit)}) * s) / 3600 * 0.14 AS cost
      FROM minutes, range
      WHERE state = 'steady' AND day >= '2025-10-15' AND day <= '2025-10-31'
        AND q BETWEEN q0 - 0.05 * (q1 - q0) AND q1 + 0.05 * (q1 - q0)
        AND warm - cold BETWEEN d0 - 0.05 * (d1 - d0) AND d1 + 0.05 * (d1 - d0)
      GROUP BY day ORDER BY day`)
  ).getRowObjectsJson() as Record<string, number | string>[];
  const days = season.steps.filter(({ against }) => against !== null);
  expect(days.map(({ name }) => name)).toEqual(rows.map(({ day }) => day));
  expect(days.length).toBeGreaterThan(12);
  rows.forEach(({ kwh, expected, hours, cost }, index) => {
    const against = days[index]?.against;
    near(against?.kwh, kwh);
    near(against?.kwh_expected, expected);
    near(against?.hours, hours);
    expect(Math.abs((against?.cost ?? 0) - Number(cost))).toBeLessThan(1e-6);
  });
  const [total] = [rows.reduce((sum, { cost }) => sum + Number(cost), 0)];
  expect(Math.abs((season.against?.cost ?? 0) - total)).toBeLessThan(1e-6);
  // The change that the hours were made with.
  const { deviation, uncertainty } = season.against ?? {};
  expect(Math.abs((deviation ?? 0) - 0.03)).toBeLessThan((uncertainty?.deviation ?? 0) + 0.004);
  expect(season.steps.find(({ name }) => name === '2025-10-26')?.hours).toBe(25);
});
