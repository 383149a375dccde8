/**
 * Goal: a bad point costs itself and says why; the rest of the interval is complete; the uncertainty is right.
 * Standard error of a mean s/sqrt(n) and addition in quadrature: JCGM 100:2008 (GUM) 4.2.3 and 5.1.2.
 */
import { describe, expect, test } from 'vitest';
import { sampleTable } from '../../../agent/points/samples.ts';
import { takeSnapshot } from '../../../agent/points/snapshot.ts';
import type { PointSpec, PointValue } from '../../../agent/points/types.ts';
import { spec, T0, tableOf } from './samples-of.ts';

const P = 'evaporator.pressure';
const AIR = { local: 101_325 };
const END = T0 + 60_000;

function value(raws: readonly (number | null)[], overrides: Partial<PointSpec> = {}, every_s = 5): PointValue {
  const point = spec(overrides);
  const table = tableOf(point.name, raws, every_s, T0 + 5000);
  const snapshot = takeSnapshot({ specs: [point], samples: table.interval(T0, END), to: END, atmosphere: AIR });
  return snapshot.points[point.name] as PointValue;
}

describe('mean, spread, count, age', () => {
  test('of 348, 350, 352 kPa', () => {
    const point = value([348, 350, 352]);
    expect(point).toMatchObject({ value: 350_000, quality: 'good', reason: null, n: 3, age_s: 45 });
    expect(point.spread).toBeCloseTo(2000, 9);
    expect(point.u).toBeCloseTo(Math.hypot(5000, 2000 / Math.sqrt(3)), 9);
  });

  test('the part that is the barometer travels with the value, and only where there is one', () => {
    const vented = { uncertainty: { absolute: Math.hypot(3000, 1000), relative: 0, barometer: 1000 } };
    expect(value([1000], vented)).toMatchObject({ u: Math.hypot(3000, 1000), u_barometer: 1000 });
    expect(value([1000], { uncertainty: { absolute: 3000, relative: 0 } })).not.toHaveProperty('u_barometer');
  });

  test('one sample has no spread; its uncertainty is the sensor', () => {
    expect(value([350])).toMatchObject({ value: 350_000, u: 5000, spread: null, n: 1 });
  });

  test('relative and absolute parts add in quadrature', () => {
    const point = value([1000], { uncertainty: { absolute: 3000, relative: 0.004 } });
    expect(point.u).toBeCloseTo(5000, 9);
  });

  test('a state is the last one, not a mean', () => {
    const running = { name: 'unit.running', unit: 'state', valid: [0, 1], frozen_s: null } as const;
    expect(value([0, 0, 1], { ...running, uncertainty: { absolute: 0, relative: 0 } })).toMatchObject({
      value: 1,
      u: 0,
    });
  });

  test('a point polled less often than the interval keeps its last value until it is stale', () => {
    const table = tableOf(P, [350], 5, T0 - 30_000);
    const take = (stale_s: number) =>
      takeSnapshot({ specs: [spec({ stale_s })], samples: table.interval(T0, END), to: END, atmosphere: AIR }).points[
        P
      ];
    expect(take(120)).toMatchObject({ value: 350_000, quality: 'good', n: 0, age_s: 90 });
    expect(take(60)).toMatchObject({ value: null, u: null, quality: 'bad', age_s: 90 });
    expect(take(60)?.reason).toBe('stale: last read 90 s ago (limit 60 s)');
  });
});

describe('bad points', () => {
  test('never read: the link says why', () => {
    const samples = sampleTable([P]).interval(T0, END);
    const take = (link?: { state: 'connected' | 'connecting' | 'lost'; reason: string | null }) =>
      takeSnapshot({ specs: [spec()], samples, to: END, atmosphere: AIR, ...(link ? { link } : {}) }).points[P];
    expect(take()).toMatchObject({ value: null, quality: 'bad', reason: 'never read', age_s: null, n: 0 });
    expect(take({ state: 'connecting', reason: null })?.reason).toBe('the controller has not answered yet');
    expect(take({ state: 'lost', reason: 'connection refused' })?.reason).toBe(
      'the link to the controller is lost: connection refused',
    );
  });

  test('an exception of the controller is passed on', () => {
    const table = sampleTable([P]);
    table.record({ point: P, time: T0 + 1, raw: null, reason: 'exception 2: no such register' });
    const { points } = takeSnapshot({ specs: [spec()], samples: table.interval(T0, END), to: END, atmosphere: AIR });
    expect(points[P]).toMatchObject({ value: null, quality: 'bad', reason: 'exception 2: no such register' });
  });

  test('lost in the interval before: the last value is not passed off as the present', () => {
    const table = tableOf(P, [350, null], 30, T0 - 20_000);
    const { points } = takeSnapshot({ specs: [spec()], samples: table.interval(T0, END), to: END, atmosphere: AIR });
    expect(points[P]).toMatchObject({ value: null, quality: 'bad', reason: 'no reply' });
  });

  test('some readings refused: doubtful; most: bad', () => {
    const some = value([350, Number.NaN, 350, 352]);
    expect(some).toMatchObject({ quality: 'uncertain', n: 4 });
    expect(some.reason).toBe('1 of 4 readings refused: the register holds no number (NaN)');
    expect(some.value).toBeCloseTo(350_666.67, 1);
    const most = value([350, 9999, 9999]);
    expect(most).toMatchObject({ value: null, quality: 'bad', reason: '9999 kPa is above 4000 kPa' });
  });

  test('one bad point leaves the others alone', () => {
    const names = [P, 'condenser.pressure', 'flash_tank.pressure'];
    const table = sampleTable(names);
    for (const [index, raw] of [350, Number.NaN, 32_767].entries())
      table.record({ point: names[index] as string, time: T0 + 1000, raw });
    const specs = names.map((name) => spec({ name, sentinels: [32_767] }));
    const { points } = takeSnapshot({ specs, samples: table.interval(T0, END), to: END, atmosphere: AIR });
    expect(names.map((name) => points[name]?.quality)).toEqual(['good', 'bad', 'bad']);
    expect(points['flash_tank.pressure']?.reason).toBe('the controller marks no measurement (raw value 32767)');
  });
});

describe('frozen', () => {
  const frozen = (raws: readonly number[], overrides: Partial<PointSpec> = {}): PointValue =>
    value(raws, { frozen_s: 30, ...overrides });
  const eight = (raw: number): number[] => Array.from({ length: 8 }, () => raw);

  test('bit-identical for longer than frozen_s', () => {
    const point = frozen([349, ...eight(350)]);
    expect(point).toMatchObject({ value: null, quality: 'bad' });
    expect(point.reason).toBe('frozen since 2026-07-01T12:00:10Z at 350 kPa (limit 30 s)');
  });
  test('one bit that moves is life', () => {
    expect(frozen([...eight(350).slice(1), 350.001]).quality).toBe('good');
  });
  test('not where a steady value is normal', () => {
    expect(frozen(eight(350), { frozen_s: null }).quality).toBe('good');
  });
  test('a stopped machine draws no power and is not frozen', () => {
    const power = { name: 'unit.power', unit: 'kW', valid: [0, 5000] } as const;
    expect(frozen(eight(0), power).quality).toBe('good');
    expect(frozen(eight(412), power).quality).toBe('bad');
  });
  test('time without readings is no evidence', () => {
    const table = tableOf(P, [350, 350], 5, T0);
    const at = (to: number) =>
      takeSnapshot({
        specs: [spec({ frozen_s: 30, stale_s: 900 })],
        samples: table.interval(T0, to),
        to,
        atmosphere: AIR,
      }).points[P]?.quality;
    expect(at(T0 + 600_000)).toBe('good');
  });
});
