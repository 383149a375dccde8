/** Goal: the table keeps what an interval needs, bounded, whatever order and gaps the samples come in. */
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { fastWindow } from '../../../agent/points/fast-window.ts';
import { sampleTable } from '../../../agent/points/samples.ts';
import { spec, T0, tableOf } from './samples-of.ts';

const P = 'condenser.level';

describe('sample table', () => {
  test('an interval excludes its beginning and includes its end, and can be taken twice', () => {
    const table = tableOf(P, [1, 2, 3, 4], 10);
    for (const _ of [1, 2]) {
      const samples = table.interval(T0, T0 + 20_000).get(P);
      expect(samples?.raws).toEqual([2, 3]);
      expect(samples?.times).toEqual([T0 + 10_000, T0 + 20_000]);
    }
  });

  test('the ring is bounded; what no interval ever saw is counted as overrun', () => {
    const many = LIMITS.samples_per_interval_max + 100;
    const table = tableOf(
      P,
      Array.from({ length: many }, (_, index) => index),
      1,
    );
    const samples = table.interval(T0 - 1, T0 + many * 1000).get(P);
    expect(samples?.raws.length).toBe(LIMITS.samples_per_interval_max);
    expect(samples?.raws[0]).toBe(100);
    expect(table.counts()).toMatchObject({ recorded: many, overrun: 100 });
    table.record({ point: P, time: T0 + many * 1000, raw: 1 });
    expect(table.counts().overrun).toBe(100);
  });

  test('a failure stands until the next value', () => {
    const table = tableOf(P, [1, null], 10);
    expect(table.interval(T0 - 1, T0 + 60_000).get(P)?.failure).toEqual({ time: T0 + 10_000, reason: 'no reply' });
    table.record({ point: P, time: T0 + 20_000, raw: 2 });
    expect(table.interval(T0 - 1, T0 + 60_000).get(P)?.failure).toBeNull();
  });

  test('samples of points that nobody declared are counted, not kept', () => {
    const table = sampleTable([P]);
    table.record({ point: 'tank_valve.position', time: T0, raw: 1 });
    expect(table.counts()).toMatchObject({ recorded: 0, unknown_point: 1 });
  });

  test('a clock stepped back lets the older samples go', () => {
    const table = tableOf(P, [1, 2, 3], 10);
    table.record({ point: P, time: T0 - 3_600_000, raw: 4 });
    const samples = table.interval(T0 - 7_200_000, T0 + 60_000).get(P);
    expect(samples?.raws).toEqual([4]);
    expect(samples?.unchanged_since).toBe(T0 - 3_600_000);
    expect(table.counts().clock_stepped).toBe(1);
  });
});

describe('unchanged since', () => {
  const since = (table: ReturnType<typeof tableOf>): number | null | undefined =>
    table.interval(T0 - 1, T0 + 1e9).get(P)?.unchanged_since;

  test('counts from the first of the equal readings', () => {
    expect(since(tableOf(P, [1, 2, 2, 2], 10))).toBe(T0 + 10_000);
  });
  test('bit by bit: minus zero is not zero, NaN is NaN', () => {
    expect(since(tableOf(P, [0, -0], 10))).toBe(T0 + 10_000);
    expect(since(tableOf(P, [Number.NaN, Number.NaN], 10))).toBe(T0);
  });
  test('a failed reading between does not start it anew, a hole of more than ten minutes does', () => {
    expect(since(tableOf(P, [2, null, 2], 10))).toBe(T0);
    expect(since(tableOf(P, [2, 2], 700))).toBe(T0 + 700_000);
  });
});

describe('learned update interval', () => {
  test('a gateway that refreshes every 20 s, asked every 2 s', () => {
    const raws = Array.from({ length: 200 }, (_, index) => Math.floor(index / 10));
    expect(tableOf(P, raws, 2).updateInterval(P)).toBe(20);
  });
  test('a refresh that brings the same value now and then does not lengthen it', () => {
    // Refreshed every 10 s; each third refresh repeats the value before.
    const held = (refresh: number): number => (refresh % 3 === 2 ? refresh - 1 : refresh);
    const raws = Array.from({ length: 300 }, (_, index) => held(Math.floor(index / 5)));
    expect(tableOf(P, raws, 2).updateInterval(P)).toBe(10);
  });
  test('nothing is claimed from few changes', () => {
    expect(tableOf(P, [1, 2, 3, 4], 2).updateInterval(P)).toBeNull();
    expect(tableOf(P, [1], 2).updateInterval('no.such')).toBeNull();
  });
});

describe('fast window', () => {
  const air = { local: 101_325 };
  const level = spec({ name: P, unit: '%', valid: [-5, 105], fast: true });

  test('keeps fast points alone, in SI, without what could not be believed', () => {
    const window = fastWindow([level, spec()]);
    expect(window.points).toEqual([P]);
    window.append(tableOf(P, [50, 200, 51], 2).interval(T0 - 1, T0 + 60_000), air);
    expect([...window.columns(P).values]).toEqual([0.5, 0.51]);
    expect([...window.columns(P).times]).toEqual([T0, T0 + 4000]);
    expect(window.columns('evaporator.pressure').times.length).toBe(0);
  });

  test('takes each sample once and gives only what is asked for', () => {
    const window = fastWindow([level]);
    const table = tableOf(P, [1, 2, 3], 2);
    window.append(table.interval(T0 - 1, T0 + 2000), air);
    window.append(table.interval(T0 - 1, T0 + 60_000), air);
    expect([...window.columns(P).values]).toEqual([0.01, 0.02, 0.03]);
    expect([...window.columns(P, T0).times]).toEqual([T0 + 2000, T0 + 4000]);
  });

  test('is bounded: the oldest leave', () => {
    const window = fastWindow([level], 300);
    for (let from = 0; from < 1000; from += 100) {
      const raws = Array.from({ length: 100 }, (_, index) => (from + index) / 10);
      window.append(tableOf(P, raws, 1, T0 + from * 1000).interval(0, T0 + 1e9), air);
    }
    const { times, values } = window.columns(P);
    expect(times.length).toBe(300);
    expect(times[0]).toBe(T0 + 700_000);
    expect(values[299]).toBeCloseTo(0.999, 12);
    expect([...times].every((time, index) => index === 0 || time > (times[index - 1] as number))).toBe(true);
  });
});
