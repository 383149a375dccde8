/** What must not change a verdict: unit and zero of the level, the date; and nothing makes it throw. */
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { analyseLoop } from '../../../agent/valves/analyse.ts';
import { LOOP_KINDS, type LoopVerdict, type LoopWindow } from '../../../agent/valves/types.ts';
import { CLASSES } from '../../unit/valves/classes.ts';
import { makeCase } from '../../unit/valves/score.ts';

const columns = (times: Float64Array, values: Float64Array) => ({ times, values });

function windowOf(name: string, index: number): LoopWindow {
  const kind = CLASSES.find((each) => each.name === name);
  if (kind === undefined) throw new Error(`no class ${name}`);
  const { times, level, command, position, setpoint } = makeCase(kind, 77, index);
  return {
    kind: 'level',
    measured: columns(times, level),
    output: columns(times, command),
    position: columns(times, position),
    setpoint: columns(times, setpoint),
    drivers: [],
    band: 0.01,
    stroke: 1,
  };
}

const map = (window: LoopWindow, of: (value: number) => number, shift = 0): LoopWindow => ({
  ...window,
  measured: columns(
    window.measured.times.map((time) => time + shift),
    window.measured.values.map(of),
  ),
});

test.each(['sticking', 'tuning', 'noise'])('%s: a level in per cent with another zero is the same loop', (name) => {
  for (let i = 0; i < 3; i++) {
    const window = windowOf(name, i);
    const plain = analyseLoop(window, 'recent');
    const other = analyseLoop({ ...map(window, (value) => 100 * value + 7), band: 1, setpoint: null }, 'recent');
    expect([other.verdict, other.cause]).toEqual([plain.verdict, plain.cause]);
    expect(other.index).toBeCloseTo(plain.index as number, 6);
    if (plain.period_s === null || plain.level_amplitude === null) continue;
    expect(other.period_s?.value).toBeCloseTo(plain.period_s.value, 6);
    expect((other.level_amplitude?.value as number) / plain.level_amplitude.value).toBeCloseTo(100, 6);
  }
});

test.each(['sticking', 'tuning', 'noise'])('%s: twice as slow is twice the period', (name) => {
  const window = windowOf(name, 0);
  const slow = ({ times, values }: { times: Float64Array; values: Float64Array }) =>
    columns(
      times.map((time) => 2 * (time - (times[0] as number))),
      values,
    );
  const stretched: LoopWindow = {
    ...window,
    measured: slow(window.measured),
    output: window.output && slow(window.output),
    position: window.position && slow(window.position),
    setpoint: window.setpoint && slow(window.setpoint),
  };
  const [one, two] = [analyseLoop(window, 'whole'), analyseLoop(stretched, 'whole')];
  expect([two.verdict, two.cause]).toEqual([one.verdict, one.cause]);
  if (one.period_s !== null) expect(two.period_s?.value).toBeCloseTo(2 * one.period_s.value, 6);
  if (one.travel_per_hour !== null) expect(two.travel_per_hour).toBeCloseTo(one.travel_per_hour / 2, 6);
});

function wellFormed(verdict: LoopVerdict): void {
  const { index, period_s, level_amplitude, sticking } = verdict;
  if (verdict.verdict === 'hunting') {
    expect(index).toBeGreaterThanOrEqual(0.5);
    expect(verdict.cause).not.toBeNull();
  } else {
    expect([period_s, level_amplitude, verdict.cause]).toEqual([null, null, null]);
    if (index !== null) expect(index).toBeLessThan(0.5);
  }
  if (verdict.verdict === 'not_enough' || verdict.verdict === 'unusable') expect(verdict.reason).toBeTruthy();
  for (const value of [index, period_s?.value, period_s?.uncertainty, level_amplitude?.value, sticking.score])
    if (value !== null && value !== undefined) expect(Number.isFinite(value)).toBe(true);
}

const sample = fc.oneof(
  fc.double({ min: -1e3, max: 1e3, noNaN: true }),
  fc.constantFrom(0, 0.5, Number.NaN, Number.POSITIVE_INFINITY, 1e300),
);
const column = fc
  .tuple(fc.array(sample, { maxLength: 300 }), fc.integer({ min: 1, max: 60_000 }), fc.boolean())
  .map(([values, step, jumbled]) =>
    columns(
      Float64Array.from(values, (_, i) => (jumbled ? ((i * 7919) % 300) * step : i * step)),
      Float64Array.from(values),
    ),
  );

test('whatever the columns hold, the verdict is well formed', () => {
  fc.assert(
    fc.property(
      fc.record({
        kind: fc.constantFrom(...LOOP_KINDS),
        measured: column,
        output: fc.option(column),
        position: fc.option(column),
        setpoint: fc.option(column),
        drivers: fc.array(
          fc.record({
            name: fc.constant('other'),
            columns: column,
            relation: fc.constantFrom('inflow' as const, 'pressure' as const, 'outside' as const),
          }),
          { maxLength: 2 },
        ),
        band: fc.option(fc.double({ min: 1e-6, max: 10, noNaN: true })),
        stroke: fc.constantFrom(null, 1, 100),
      }),
      fc.constantFrom('whole' as const, 'recent' as const),
      (window, scope) => wellFormed(analyseLoop(window, scope)),
    ),
    { numRuns: 200 },
  );
});
