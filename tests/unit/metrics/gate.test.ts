/** Goal: a figure of the cycle is never given as if the machine ran, or ran steadily, where it did not. */
import { describe, expect, test } from 'vitest';
import type { Figure } from '../../../agent/base/metric.ts';
import { gateFigures } from '../../../agent/metrics/gate.ts';
import { RUNNING_START, type UnitState } from '../../../agent/points/running.ts';

const good = (value: number): Figure => ({ value, uncertainty: 1, quality: 'good', reason: null });
const FIGURES = { 'unit.capacity': good(4000), 'unit.power': good(3), 'condenser.saturation_temperature': good(30) };

function gated(state: UnitState, running: boolean | null) {
  return gateFigures(FIGURES, { running: { ...RUNNING_START, state, running } });
}

describe('a machine that does not run', () => {
  // `stopping` is entered in the first interval that finds the machine stopped.
  test.each(['off', 'standstill', 'stopping'] as const)(
    '%s: missing with that reason, but what holds then too',
    (state) => {
      const figures = gated(state, false);
      const reason = `the machine is ${state}`;
      expect(figures['unit.capacity']).toEqual({ value: null, uncertainty: null, quality: 'bad', reason });
      expect(figures['unit.power']).toEqual(good(3));
      expect(figures['condenser.saturation_temperature']).toEqual(good(30));
    },
  );
});

describe('a machine that runs', () => {
  test.each(['starting', 'pull-down', 'load change', 'low-load cycling'] as const)('%s: uncertain', (state) => {
    expect(gated(state, true)['unit.capacity']).toEqual({
      ...good(4000),
      quality: 'uncertain',
      reason: `not steady: ${state}`,
    });
  });
  test.each(['steady', 'running'] as const)('%s: as it is', (state) => {
    expect(gated(state, true)).toEqual(FIGURES);
  });
  test('nobody knows: uncertain, whatever was last known', () => {
    for (const last of [true, false, null])
      expect(gated('unknown', last)['unit.capacity']).toMatchObject({ value: 4000, quality: 'uncertain' });
  });
});
