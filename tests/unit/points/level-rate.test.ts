/** Goal: a level comes with how fast it moves wherever its samples tell that, and with nothing where they do not. */
import { expect, test } from 'vitest';
import { takeSnapshot } from '../../../agent/points/snapshot.ts';
import type { PointSpec, PointValue } from '../../../agent/points/types.ts';
import { spec, T0, tableOf } from './samples-of.ts';

const AIR = { local: 101_325 };
const END = T0 + 60_000;
const LEVEL = { name: 'flash_tank.level', unit: '%', valid: [-5, 105], frozen_s: null } as const;

function value(raws: readonly number[], overrides: Partial<PointSpec> = {}): PointValue {
  const point = spec({ ...LEVEL, ...overrides });
  const table = tableOf(point.name, raws, 2, T0 + 2000);
  const samples = table.interval(T0, END);
  return takeSnapshot({ specs: [point], samples, to: END, atmosphere: AIR }).points[point.name] as PointValue;
}

const rising = (step: number): number[] => Array.from({ length: 30 }, (_, i) => 40.05 + step * i);

test('6 % within 60 s are 0.001 of the range a second, in any unit of the register', () => {
  expect(value(rising(0.2)).rate?.value).toBeCloseTo(0.001, 12);
  expect(value(rising(0.002), { unit: '1', valid: [0, 100] }).rate?.value).toBeCloseTo(0.001, 12);
  expect(value(rising(-0.2)).rate?.value).toBeCloseTo(-0.001, 12);
});

test('a level that stands in whole steps of 0.1 % is known to a step, not to nothing', () => {
  // difference of two readings rounded to 0.001 of the range (variance step^2/12 each) over 58 s
  const still = value(Array(30).fill(450), { scale: 0.1 });
  expect(still.rate?.value).toBe(0);
  expect(still.rate?.u).toBeCloseTo(0.001 / Math.sqrt(6) / 58, 12);
  const finer = value(Array(30).fill(4500), { scale: 0.01 });
  expect(finer.rate?.u).toBeCloseTo(0.0001 / Math.sqrt(6) / 58, 12);
});

test.each([
  ['two samples', [40, 41], {}],
  ['a reading refused', [...rising(0.2).slice(0, 20), 400], {}],
  ['no level', rising(0.2), { name: 'tank_valve.position' }],
])('%s: no rate', (_, raws, overrides) => {
  expect(value(raws, overrides)).not.toHaveProperty('rate');
});
