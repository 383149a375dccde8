/**
 * Goal: scatter of readings reaches the season as what it is, through solution, record, store, packed minutes, hours.
 * Method: readings made here, two hours and a half of them, into the agent's own watch over a real store; what the
 * season must say of power is summed from the readings themselves (JCGM 100:2008, 4.2.3, 5.1.2 and 5.2.2).
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { toSi } from '../../../agent/base/units.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import { readingFromSi } from '../../../agent/points/convert.ts';
import type { SourceStatus } from '../../../agent/points/types.ts';
import { uncertaintyParts } from '../../../agent/season/energy.ts';
import type { ChillerSite } from '../../../agent/site/site.ts';
import { ChillerWatch } from '../../../agent/watch.ts';
import { normal } from '../../proof/consistent.ts';

const FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;
const read = await loadSite(FILE, { env: {} });
if (!read.ok) throw new Error(JSON.stringify(read.fault));
const site = read.value;
const LINK: SourceStatus = { state: 'connected', since: 0, reason: null, counters: {} };
const START = Date.UTC(2026, 10, 18, 8);
const MINUTES = 150;
const SAMPLES = 12;

/** SI, with the standard deviation of a reading. */
const READINGS: Readonly<Record<string, readonly [value: number, scatter: number]>> = {
  'unit.running': [1, 0],
  'economizer_compressor.running': [1, 0],
  'chilled_water.entering_temperature': [toSi(12, 'degC'), 0.1],
  'chilled_water.leaving_temperature': [toSi(6.5, 'degC'), 0.1],
  'chilled_water.flow': [0.2, 0.002],
  'unit.power': [760e3, 15e3],
};

let folder: string;
let history: History;
beforeEach(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'tonhour-test-'));
  history = must(openHistory({ folder }));
});
afterEach(() => {
  history.close();
  rmSync(folder, { recursive: true, force: true });
});

/** Folds the readings in, and answers each minute's mean and standard error of the power read, kW. */
function run(watch: ChillerWatch, chiller: ChillerSite): { mean: number; error: number }[] {
  const next = normal(11);
  const air = { local: site.barometer };
  return Array.from({ length: MINUTES }, (_, minute) => {
    const from = START + minute * 60_000;
    const seen: number[] = [];
    for (const spec of chiller.points) {
      const [value, scatter] = READINGS[spec.name] ?? [Number.NaN, 0];
      for (let k = 1; k <= SAMPLES && !Number.isNaN(value); k++) {
        const si = value + scatter * next();
        if (spec.name === 'unit.power') seen.push(si / 1000);
        const raw = (readingFromSi(si, spec, air) - spec.offset) / spec.scale;
        watch.samples.record({ point: spec.name, time: from + k * 5000, raw });
      }
    }
    must(watch.fold({ from, to: from + 60_000, missed: 0 }, LINK));
    const mean = seen.reduce((sum, kw) => sum + kw, 0) / SAMPLES;
    const squares = seen.reduce((sum, kw) => sum + (kw - mean) ** 2, 0);
    return { mean, error: Math.sqrt(squares / (SAMPLES - 1) / SAMPLES) };
  });
}

test('a power meter of 1 % whose readings scatter by 2 %: what lasts is 1 % of the energy, what is new its root sum', () => {
  const chiller = site.chillers[0] as ChillerSite;
  const clock = { now: () => START, monotonic: () => 0 };
  const watch = must(ChillerWatch.open({ site, chiller, history, clock, root: 'tonhour/kestrel-quay' }));
  const minutes = run(watch, chiller);
  const span = { from: START, to: START + MINUTES * 60_000 };
  const [sums] = must(history.seasonSums({ chiller: chiller.id, spans: [span] }));
  expect(sums?.energy.s).toBe(60 * MINUTES);
  const { kept, random } = uncertaintyParts(sums === undefined ? [] : [sums.energy], 'apart');
  const lasting = minutes.reduce((sum, { mean }) => sum + (2 * 0.01 * mean) / 60, 0);
  const fresh = Math.sqrt(minutes.reduce((sum, { error }) => sum + ((2 * error) / 60) ** 2, 0));
  // the record holds uncertainties to three digits, and one minute in a thousand passes for a drift
  expect((kept.kwh ?? 0) / lasting).toBeCloseTo(1, 2);
  expect((random.kwh ?? 0) / fresh).toBeCloseTo(1, 1);
  expect(Math.abs((random.kwh ?? 0) / fresh - 1)).toBeLessThan(0.02);
  // hours that are closed and minutes that are packed say the same as the minutes as they came
  const ends = minutes.map((_, minute) => ({ from: START + minute * 60_000, to: START + (minute + 1) * 60_000 }));
  const one = must(history.seasonSums({ chiller: chiller.id, spans: ends }));
  const sum = one.reduce((all, { energy }) => all + energy.power_random, 0);
  expect(sum / (sums?.energy.power_random ?? 1)).toBeCloseTo(1, 9);
  expect(watch.record?.figures['unit.capacity']?.random_share).toBeGreaterThan(0.01);
  const again = must(ChillerWatch.open({ site, chiller, history, clock, root: 'tonhour/kestrel-quay' }));
  expect(again.record?.figures).toEqual(watch.record?.figures);
});
