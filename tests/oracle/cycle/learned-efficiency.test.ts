/**
 * The efficiency learned from what the emulated plant's sensors show, against the plant's own books: a world that
 * shares no property or cycle code with the agent. Some hours at held loads, then an hour at one of which the larger
 * flow without economizer was seen before. The long run with more seeds is `tests/proof/efficiency-ratio.ts`.
 */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { readFault } from '../../../agent/plant/faults.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { MinuteRecord, MinuteTruth } from '../../../agent/plant/minutes.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';
import { compare, folded, kestrelQuay, type ShownMinute, type TrueMinute } from '../../proof/efficiency-ratio.ts';

const LOADS = [66, 70, 74, 78, 74];
const MINUTES = 45;
/** Asked then, minutes. */
const LAST = { load: 68, minutes: 50 };

test('of the emulated plant: ratio of efficiencies at both flows, within its uncertainty of the books', async () => {
  const machine = new ParallelMachine(CH1, 3);
  const held = LOADS.map((load, i) => `held_load:${load}@${60 * MINUTES * i}..${60 * MINUTES * (i + 1)}`);
  const faults = [...held, `held_load:${LAST.load}@${60 * MINUTES * LOADS.length}`].map((text) =>
    must(readFault(text, machine.points)),
  );
  const plant = new Plant({ machine, seed: 3, start: Date.UTC(2026, 6, 1, 10), faults, warmUp: 5400 });
  const [shown, truths]: [ShownMinute[], TrueMinute[]] = [[], []];
  plant.listeners.push(new MinuteRecord((line) => shown.push(line as unknown as ShownMinute), { redraw: false }));
  plant.listeners.push(new MinuteTruth((line) => truths.push(line as unknown as TrueMinute)));
  plant.advance(60 * (MINUTES * LOADS.length + LAST.minutes));
  const records = folded(await kestrelQuay('CH-1'), shown);
  const last = { records: records.slice(-LAST.minutes), truths: truths.slice(-LAST.minutes) };
  const { compared } = compare('CH-1', { ...last, more: truths });
  expect(compared.length).toBeGreaterThan(20);
  const mean = (of: (one: (typeof compared)[number]) => number): number =>
    compared.reduce((sum, one) => sum + of(one), 0) / compared.length;
  const within = compared.filter(({ found, truth, u }) => Math.abs(found - truth) <= 2 * u);
  expect(within.length / compared.length).toBeGreaterThan(0.95);
  // half a percent better at the larger flow: the wrong way round would be off by twice that
  expect(mean(({ truth }) => truth)).toBeGreaterThan(1.003);
  expect(Math.abs(mean(({ found, truth }) => found - truth))).toBeLessThan(0.003);
  // bounds by default are 0.03 either way
  expect(mean(({ u }) => 2 * u)).toBeLessThan(0.012);
}, 240_000);
