/** Goal: a figure that leans on an accused sensor says on which, and of how many one is off; others say nothing. */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { prepare } from '../../../agent/cycle/solve.ts';
import { machine, SET_CD } from './given.ts';

const solver = must(prepare(machine()));
const figures = (suspects: readonly (readonly string[])[]) =>
  solver.solve({ time: 0, points: SET_CD }, suspects).metrics;

const GROUP = ['chilled_water.entering_temperature', 'chilled_water.leaving_temperature', 'chilled_water.flow'];

test('of a group: the first that it leans on, how many more, of how many', () => {
  const { quality, reason } = figures([GROUP, ['unit.power']])['unit.capacity_from_chilled_water'] ?? {};
  expect(quality).toBe('uncertain');
  expect(reason).toMatch(/^it leans on chilled_water\.\w+ and 2 more of 4 sensors that contradict each other$/);
  const power = figures([GROUP, ['unit.power']])['unit.power'];
  expect(power?.reason).toBe('it leans on unit.power of 4 sensors that contradict each other');
});

test('one alone: that it does not fit the others', () => {
  expect(figures([['unit.power']])['unit.power']?.reason).toBe('unit.power does not fit the other sensors');
});

test('what leans on none of them is as good as it was', () => {
  expect(figures([GROUP])['main_compressor.lift']).toEqual(figures([])['main_compressor.lift']);
});
