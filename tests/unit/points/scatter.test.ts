/**
 * Goal: scatter that averages out is told from what moves slowly, which does not.
 * Twenty observations of a temperature and what follows from them: JCGM 100:2008 (GUM) 4.4.3, Table 1 (from memory).
 */
import { expect, test } from 'vitest';
import { scatterOf } from '../../../agent/points/scatter.ts';
import { normal } from '../../proof/consistent.ts';

const GUM = [
  96.9, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11, 101.2,
  101.57, 101.84, 102.36, 102.72,
];

const mean = (values: readonly number[]): number => values.reduce((sum, each) => sum + each, 0) / values.length;
const of = (values: readonly number[]) => scatterOf(values, mean(values)) as NonNullable<ReturnType<typeof scatterOf>>;

/** Every seventh, round and round: an order without a trend. */
const mixed = <T>(values: readonly T[]): T[] => values.map((_, i) => values[(7 * i) % values.length] as T);

test('the worked example of the guide: s 1.49 degC, of the mean 0.33 degC', () => {
  expect(mean(GUM)).toBeCloseTo(100.145, 3);
  const { spread, u, u_random } = of(mixed(GUM));
  expect(spread).toBeCloseTo(1.489, 3);
  expect(u).toBeCloseTo(0.333, 3);
  expect(u_random).toBe(u);
});

test('the same readings one after the other by size are a drift: nearly nothing of it averages out', () => {
  const { u, u_random } = of(GUM);
  expect(u).toBeCloseTo(0.333, 3);
  expect(u_random).toBeLessThan(0.2 * u);
});

test('a straight line by hand: 0 to 11 in twelve steps, s^2 = 13, successive 1/2', () => {
  const { spread, u, u_random } = of(Array.from({ length: 12 }, (_, i) => i));
  expect(spread ** 2).toBeCloseTo(13, 12);
  expect(u ** 2).toBeCloseTo(13 / 12, 12);
  expect(u_random ** 2).toBeCloseTo(0.5 / 12, 12);
});

test('a reading that a gateway holds for half a minute is not twelve readings', () => {
  const held = Array.from({ length: 12 }, (_, i) => (i < 6 ? 20 : 21));
  const { u, u_random } = of(held);
  expect(u_random).toBeLessThan(0.5 * u);
});

test('independent readings keep all their scatter but for about one minute in a thousand', () => {
  const next = normal(3);
  const taken = Array.from({ length: 4000 }, () => of(Array.from({ length: 12 }, () => 7 + 0.1 * next())));
  const fewer = taken.filter(({ u, u_random }) => u_random < u).length;
  expect(fewer / taken.length).toBeLessThan(0.004);
  // the variance of the mean of twelve
  expect(mean(taken.map(({ u_random }) => u_random ** 2)) / (0.01 / 12)).toBeCloseTo(1, 1);
});

test('one reading says nothing of scatter; two say all they can; still readings have none', () => {
  expect(scatterOf([5], 5)).toBeNull();
  const { u, u_random } = of([4, 6]);
  expect([u, u_random]).toEqual([1, expect.closeTo(1, 12)]);
  expect(of([5, 5, 5])).toEqual({ spread: 0, u: 0, u_random: 0 });
});
