/**
 * Goal: slope and its uncertainty as published, and never too small where readings are alike or rounded. JCGM 100:2008
 * (GUM) H.3, calibration of a thermometer: eleven corrections over temperature, slope 0.002 18 with 0.000 67 (data and
 * residuals of Table H.6 from memory; they give both printed figures).
 */
import { expect, test } from 'vitest';
import { slopeOf } from '../../../agent/base/slope.ts';

const T = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.01, 26.511];
const B = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16];
const E = [-0.0031, -0.0022, -0.0003, 0.0056, -0.0005, -0.0025, 0.0054, 0.0033, 0.0002, -0.0029, -0.003];

const sum = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0);
/** Evenly spread between -1 and 1, in no order. */
const wobble = (i: number): number => ((i * 7919) % 101) / 50 - 1;
const every = (n: number, s: number): number[] => Array.from({ length: n }, (_, i) => 1000 * s * i);
const slope = (times: readonly number[], values: readonly number[], step = 0): { value: number; u: number } =>
  slopeOf(times, values, step) ?? { value: Number.NaN, u: Number.NaN };

test('the thermometer of the GUM: 0.00218, and 0.00067 but for neighbouring residuals that are alike', () => {
  const found = slope(
    T.map((t) => 1000 * t),
    B,
  );
  expect(found.value).toBeCloseTo(0.00218, 5);
  const alike = sum(E.slice(1).map((e, i) => e * (E[i] as number))) / sum(E.map((e) => e ** 2));
  expect(found.u / Math.sqrt((1 + alike) / (1 - alike))).toBeCloseTo(0.00067, 5);
});

test('noise without memory: its standard error; the slope lies within three of it', () => {
  const times = every(400, 2);
  const found = slope(
    times,
    times.map((t, i) => 0.3 + 1e-4 * (t / 1000) + 0.002 * wobble(i)),
  );
  // even spread of half-width a: s = a/sqrt(3); sum (t - mean)^2 = n (n^2 - 1) d^2/12
  const u = 0.002 / Math.sqrt(3) / Math.sqrt((400 * (400 ** 2 - 1) * 4) / 12);
  expect(found.u).toBeGreaterThan(0.8 * u);
  expect(found.u).toBeLessThan(1.3 * u);
  expect(Math.abs(found.value - 1e-4)).toBeLessThan(3 * u);
});

test('a level that swings once within the minute has gained nothing: within two of the uncertainty, at the worst phase', () => {
  const times = every(30, 2);
  const found = slope(
    times,
    times.map((t) => 0.5 + 0.01 * Math.sin((2 * Math.PI * t) / 60_000)),
  );
  // least squares over one period of a sine: -6 A/(pi T)
  expect(found.value / ((-6 * 0.01) / (Math.PI * 60))).toBeCloseTo(1, 1);
  expect(Math.abs(found.value) / found.u).toBeLessThan(2.1);
});

test('readings that a gateway repeats count once: five new values in a minute are less sure than thirty', () => {
  const times = every(30, 2);
  const level = (t: number, i: number): number => 0.4 + 2e-7 * t + 0.001 * wobble(i);
  const fresh = slope(times, times.map(level));
  const repeated = slope(
    times,
    times.map((t, i) => level(t - (t % 12_000), i - (i % 6))),
  );
  expect(repeated.u).toBeGreaterThan(1.5 * fresh.u);
  expect(Math.abs(repeated.value - 2e-4)).toBeLessThan(3 * repeated.u);
});

test('rounded readings that stand leave a step: the difference of two rounded ends over their time', () => {
  // variance of one rounded reading: step^2/12 (GUM 4.3.7)
  const times = every(31, 2);
  const found = slope(
    times,
    times.map(() => 0.5),
    0.001,
  );
  expect(found.value).toBe(0);
  expect(found.u).toBeCloseTo(Math.sqrt(2 * (0.001 ** 2 / 12)) / 60, 12);
});

test('two readings, or readings of one time, are no slope', () => {
  expect(slopeOf([0, 1000], [1, 2], 0)).toBeNull();
  expect(slopeOf([5, 5, 5], [1, 2, 3], 0)).toBeNull();
});
