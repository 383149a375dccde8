/** Goal: state, starts and run hours as published are those of the fold. */
import { expect, test } from 'vitest';
import { nextRunning, RUNNING_START, runningRule } from '../../../agent/points/running.ts';
import { RUNNING_METRICS, UNIT_STATES } from '../../../agent/points/running-metrics.ts';
import { snapshotOf, T0 } from './samples-of.ts';

const RULE = runningRule.parse({});

function fold(running: readonly (number | null)[]) {
  return running.reduce(
    (state, value, index) =>
      nextRunning(state, {
        snapshot: snapshotOf(T0 + 60_000 * index, { 'unit.running': value }),
        rule: RULE,
        interval_s: 60,
      }),
    RUNNING_START,
  );
}

const metrics = (state: ReturnType<typeof fold>) =>
  Object.fromEntries(RUNNING_METRICS.map((metric) => [metric.name, metric.compute(state)]));

test('an hour after a start: one start, an hour, its state by number', () => {
  const found = metrics(fold([0, 0, ...new Array<number>(61).fill(1)]));
  expect(found['unit.starts']).toBe(1);
  // SI: seconds.
  expect(found['unit.run_hours']).toBe(3600);
  // Without temperatures and pressures nobody can call it steady.
  expect(UNIT_STATES[found['unit.state'] as number]).toBe('running');
});

test('never watched, or unknown: missing with the reason, never 0', () => {
  expect(metrics(RUNNING_START)).toEqual({
    'unit.state': { missing: 'no point says whether the chiller runs' },
    'unit.starts': { missing: 'not watched yet' },
    'unit.starts_per_hour': { missing: 'not watched yet' },
    'unit.run_hours': { missing: 'not watched yet' },
  });
  expect(metrics(fold([1, null]))['unit.state']).toEqual({ missing: 'no point says whether the chiller runs' });
});

test('every state has a number, and the meaning names them all', () => {
  expect(new Set(UNIT_STATES).size).toBe(9);
  for (const state of UNIT_STATES) expect(RUNNING_METRICS[0]?.meaning).toContain(state);
});
