// Goal: a restart costs no verdict on the level loops: the fast window goes on from the stored samples.
// Method: a level and its valve that swing with a known period are recorded for 40 minutes, the agent's watch is opened
// anew on the same store, and its next minute is compared with that of a watch that was never stopped.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import { readingFromSi } from '../../../agent/points/convert.ts';
import type { ChillerSite } from '../../../agent/site/site.ts';
import { ChillerWatch } from '../../../agent/watch.ts';

const FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;
const read = await loadSite(FILE, { env: {} });
if (!read.ok) throw new Error(JSON.stringify(read.fault));
const site = read.value;
const chiller = site.chillers[0] as ChillerSite;

const T0 = 1_795_000_020_000;
const MINUTE_MS = 60_000;
const MINUTES = 40;
/** Period of the swing, s: chosen, and found again by the search. */
const PERIOD_S = 150;
const CONNECTED = { state: 'connected', since: T0, reason: null, counters: {} } as const;

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

function open(store: History): ChillerWatch {
  const clock = { now: () => T0, monotonic: () => 0 };
  return must(ChillerWatch.open({ site, chiller, history: store, clock, root: 'tonhour/kestrel-quay' }));
}

function record(watch: ChillerWatch, name: string, time: number, si: number): void {
  const spec = chiller.points.find((each) => each.name === name);
  if (spec === undefined) throw new Error(`the example maps ${name}`);
  const reading = readingFromSi(si, spec, { local: site.barometer });
  watch.samples.record({ point: name, time, raw: (reading - spec.offset) / spec.scale });
}

/** One minute of a running machine whose condenser level swings. */
function minute(watch: ChillerWatch, number: number): Readonly<Record<string, { readonly value: number | null }>> {
  const from = T0 + number * MINUTE_MS;
  for (let s = 5; s <= 60; s += 5) {
    const time = from + 1000 * s;
    const phase = (2 * Math.PI * (time - T0)) / 1000 / PERIOD_S;
    record(watch, 'unit.running', time, 1);
    record(watch, 'condenser.level', time, 0.5 + 0.08 * Math.sin(phase));
    record(watch, 'condenser_valve.position', time, 0.4 + 0.06 * Math.sin(phase + Math.PI / 2));
    record(watch, 'condenser_valve.command', time, 0.4 + 0.06 * Math.sin(phase + Math.PI / 2));
  }
  return must(watch.fold({ from, to: from + MINUTE_MS, missed: 0 }, CONNECTED)).figures;
}

test('the minute after a restart judges the loops as if there had been none', () => {
  const watch = open(history);
  for (let number = 0; number < MINUTES; number += 1) minute(watch, number);
  history.close();
  // The disk as it is at the restart serves both: the watch that goes on writes into a store of its own.
  history = must(openHistory({ folder }));
  const restarted = minute(open(history), MINUTES);
  const other = mkdtempSync(path.join(tmpdir(), 'tonhour-test-'));
  const elsewhere = must(openHistory({ folder: other }));
  try {
    const whole = open(elsewhere);
    for (let number = 0; number < MINUTES; number += 1) minute(whole, number);
    const unbroken = minute(whole, MINUTES);
    for (const name of ['condenser_valve.hunting_index', 'condenser_valve.period']) {
      expect(unbroken[name]?.value, name).not.toBeNull();
      expect(restarted[name]?.value, name).toBeCloseTo(unbroken[name]?.value as number, 3);
    }
    expect(Math.abs((restarted['condenser_valve.period']?.value as number) - PERIOD_S)).toBeLessThan(8);
  } finally {
    elsewhere.close();
    rmSync(other, { recursive: true, force: true });
  }
});

test('samples are given back as they were stored, within the span asked for', () => {
  const watch = open(history);
  minute(watch, 0);
  minute(watch, 1);
  const [from, to] = [T0 + 30_000, T0 + 90_000];
  const { times, values } = must(history.fastSamples({ chiller: chiller.id, point: 'condenser.level', from, to }));
  expect(times).toEqual(Array.from({ length: 12 }, (_, index) => from + 5000 * (index + 1)));
  expect(values.every((value) => value > 0.4 && value < 0.6)).toBe(true);
});
