import { describe, expect, test } from 'vitest';
import { cleaned, gridOver, holesOf, onGrid, updateInterval } from '../../../agent/valves/grid.ts';
import { movingMean, noiseOf, quantumOf } from '../../../agent/valves/statistics.ts';
import { normal, uniform } from './loops.ts';

const columns = (times: readonly number[], values: readonly number[]) => ({
  times: Float64Array.from(times),
  values: Float64Array.from(values),
});
const every = (step: number, n: number, of: (t: number) => number) =>
  columns(
    Array.from({ length: n }, (_, i) => i * step),
    Array.from({ length: n }, (_, i) => of(i * step)),
  );

describe('interval between new values', () => {
  test('a noisy signal: the spacing of the samples', () => {
    const draw = uniform(1);
    expect(updateInterval(every(2000, 500, () => normal(draw)))).toBe(2000);
  });
  test.each([10_000, 20_000, 60_000])('a gateway that refreshes every %d ms, polled every 2 s', (refresh) => {
    const draw = uniform(2);
    const fresh = Array.from({ length: 800 }, () => normal(draw));
    expect(updateInterval(every(2000, 3600, (t) => fresh[Math.floor((t + 700) / refresh)] as number))).toBe(refresh);
  });
  test('a refresh of 5 s polled every 2 s comes after two or three samples', () => {
    const draw = uniform(3);
    const fresh = Array.from({ length: 800 }, () => normal(draw));
    const found = updateInterval(every(2000, 1500, (t) => fresh[Math.floor(t / 5000)] as number));
    expect(found).toBeGreaterThanOrEqual(4000);
    expect(found).toBeLessThanOrEqual(6000);
  });
  test('a coarse signal stands still too, but not evenly', () => {
    const draw = uniform(4);
    const coarse = every(2000, 1800, (t) => Math.round(20 * (Math.sin(t / 40_000) + 0.02 * normal(draw))) / 20);
    expect(updateInterval(coarse)).toBe(2000);
  });
  test('unknown for two samples', () => expect(updateInterval(every(1000, 2, () => 1))).toBeNull());
});

test('what is not finite or not later is left out', () => {
  const found = cleaned(columns([0, 1, 1, 2, 0, 3, 4], [1, 2, 3, Number.NaN, 5, 6, Number.POSITIVE_INFINITY]));
  expect([[...found.times], [...found.values]]).toEqual([
    [0, 1, 3],
    [1, 2, 6],
  ]);
});

test('holes', () => {
  expect(holesOf(columns([0, 1, 2, 30, 31, 60, 61], [0, 0, 0, 0, 0, 0, 0]), 10)).toEqual([3, 5]);
  expect(holesOf(columns([0, 1, 2], [0, 0, 0]), 10)).toEqual([]);
});

describe('on a grid', () => {
  const samples = columns([0, 1000, 3000, 4000], [0, 1, 3, 10]);
  const grid = gridOver(samples, 1000);
  test('between samples by the line', () =>
    expect([...(onGrid(samples, grid, 'line') ?? [])]).toEqual([0, 1, 2, 3, 10]));
  test('a command holds', () => expect([...(onGrid(samples, grid, 'hold') ?? [])]).toEqual([0, 1, 1, 3, 10]));
  test('several samples of a cell are averaged', () => {
    const fine = every(500, 9, (t) => t / 500);
    expect([...(onGrid(fine, gridOver(fine, 2000), 'line') ?? [])]).toEqual([0.5, 3.5, 7]);
  });
  test('nothing of nothing', () => expect(onGrid(columns([], []), grid, 'line')).toBeNull());
});

describe('statistics', () => {
  test('noise of white noise on a slope, within a tenth', () => {
    const draw = uniform(5);
    const values = Float64Array.from({ length: 4000 }, (_, i) => 0.01 * i + 0.3 * normal(draw));
    expect(noiseOf(values) / 0.3).toBeGreaterThan(0.9);
    expect(noiseOf(values) / 0.3).toBeLessThan(1.1);
  });
  test('steps of a coarse signal; none of a fine one', () => {
    const draw = uniform(6);
    expect(quantumOf(Float64Array.from({ length: 500 }, () => Math.round(8 * draw()) / 8))).toBeCloseTo(0.125, 9);
    expect(quantumOf(Float64Array.from({ length: 500 }, () => draw()))).toBe(0);
  });
  test.each([4, 5, 12, 13])('a moving mean over %d keeps a line and takes off a sine of that period', (width) => {
    const line = Float64Array.from({ length: 60 }, (_, i) => 3 + 0.5 * i);
    movingMean(line, width).forEach((value, i) => {
      expect(value).toBeCloseTo(line[i] as number, 9);
    });
    const wave = Float64Array.from({ length: 60 }, (_, i) => Math.sin((2 * Math.PI * i) / width));
    for (const value of movingMean(wave, width).subarray(width, 60 - width)) expect(value).toBeCloseTo(0, 9);
  });
});
