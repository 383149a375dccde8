import { expect, test } from 'vitest';
import type { Reconciliation } from '../../../agent/cycle/types.ts';
import { NAMED_AFTER_S, NO_SUSPICION, nextSuspicion, suspicionWords } from '../../../agent/diagnosis/suspicion.ts';

const START = Date.UTC(2026, 6, 1, 12);

function found(suspects: readonly (readonly string[])[], more: Partial<Reconciliation> = {}): Reconciliation {
  return {
    chi_square: { value: suspects.length > 0 ? 20 : 2, dof: 3, p: suspects.length > 0 ? 0.0002 : 0.6 },
    corrections: {},
    suspects,
    groups: [['chilled_water.flow', 'chilled_water.entering_temperature'], ['unit.power']],
    points: {
      'unit.power': {
        measured: 7.8e5,
        value: 8e5,
        before: 8e3,
        after: 5e3,
        random: 0,
        redundant: true,
        off: { value: -4e4, u: 9e3 },
      },
    },
    redundant: [],
    balances: [],
    problem: null,
    ...more,
  };
}

/** Minutes one after the other; each `true` points at the suspects, `false` passes its test. */
function after(minutes: readonly boolean[], suspects: readonly (readonly string[])[], steady = true) {
  return minutes.reduce(
    (state, bad, at) =>
      nextSuspicion(state, {
        reconciliation: found(bad ? suspects : []),
        steady,
        interval_s: 60,
        time: START + 60_000 * (at + 1),
      }),
    NO_SUSPICION,
  );
}

const bad = (count: number): boolean[] => Array.from({ length: count }, () => true);
const fine = (count: number): boolean[] => Array.from({ length: count }, () => false);

test('one suspect, minute after minute: named after ten, cleared after ten without', () => {
  expect(NAMED_AFTER_S).toBe(600);
  expect(after(bad(9), [['unit.power']]).suspects).toEqual([]);
  const named = after(bad(10), [['unit.power']]);
  expect(named.suspects).toEqual([['unit.power']]);
  expect(named.since).toBe('2026-07-01T12:10:00Z');
  expect(named.off).toEqual({ 'unit.power': { value: -40, uncertainty: 18, unit: 'kW' } });
  expect(suspicionWords(named)).toEqual([{ name: 'unit.power', reason: 'off by -40 ± 18 kW, by the other sensors' }]);
  expect(after([...bad(10), ...fine(9)], [['unit.power']]).suspects).toEqual([['unit.power']]);
  const cleared = after([...bad(10), ...fine(10)], [['unit.power']]);
  expect(cleared).toEqual(NO_SUSPICION);
});

test('chance does not add up: one minute in twenty that fails names nobody in a week', () => {
  const minutes = Array.from({ length: 10_080 }, (_, at) => at % 20 === 0);
  expect(after(minutes, [['unit.power']]).suspects).toEqual([]);
});

test('minutes that are not steady, or that test nothing, count neither way', () => {
  expect(after(bad(100), [['unit.power']], false)).toEqual(NO_SUSPICION);
  const named = after(bad(10), [['unit.power']]);
  const untested = { reconciliation: found([], { chi_square: null }), steady: true, interval_s: 60, time: START };
  expect(nextSuspicion(named, untested)).toBe(named);
});

test('a group that cannot be told apart is told as one', () => {
  const group = ['chilled_water.flow', 'chilled_water.entering_temperature'];
  const named = after(bad(10), [group, ['unit.power']]);
  expect(named.suspects).toEqual([group, ['unit.power']]);
  for (const { reason } of suspicionWords(named)) expect(reason).toContain('if it is this one');
});

test('who is pointed at now and then stands beside the one that always is only if often enough', () => {
  let state = NO_SUSPICION;
  for (let at = 0; at < 40; at++) {
    const suspects = at % 3 === 0 ? [['unit.power'], ['chilled_water.flow']] : [['unit.power']];
    state = nextSuspicion(state, { reconciliation: found(suspects), steady: true, interval_s: 60, time: START + at });
  }
  expect(state.suspects).toEqual([['unit.power']]);
});
