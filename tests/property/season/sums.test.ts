/**
 * Goal: whatever the minutes, however a period is split and in whatever order its parts come, the season is the same;
 * and no split, merge or missing minute makes energy or time.
 */
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { energyFigure } from '../../../agent/season/energy.ts';
import { addSums, NO_SUMS, type SeasonMinute, type Sums, sumsOf } from '../../../agent/season/sums.ts';
import { DAY, dayStart, daysOf, HOUR, localDate, zoneOffsets } from '../../../agent/season/zone.ts';
import { closeTo, minuteOf } from '../../unit/season/helpers.ts';

/** To six decimals, as records are: a capacity of 1e-154 kW overflows in any arithmetic and comes from no machine. */
const maybe = (least: number, most: number): fc.Arbitrary<number | null> =>
  fc.option(
    fc.double({ min: least, max: most, noNaN: true }).map((value) => Number(value.toFixed(6))),
    { freq: 8 },
  );

const minutes: fc.Arbitrary<SeasonMinute[]> = fc.array(
  fc
    .record({
      interval_s: fc.integer({ min: 1, max: 900 }),
      state: fc.constantFrom('off', 'starting', 'steady', 'steady', 'steady', 'stopping', 'standstill', 'unknown'),
      economizer: fc.constantFrom('on', 'off', 'none', 'unknown'),
      power: maybe(1, 2000),
      capacity: maybe(-200, 9000),
      u_power: maybe(0.1, 60),
      u_capacity: maybe(0.1, 300),
      doubts: fc.subarray(['unit.power', 'unit.capacity', 'economizer.power_saved']),
      lift: maybe(0, 60),
      saved: maybe(-10, 80),
    })
    .map(({ lift, saved, ...given }) =>
      minuteOf({ ...given, more: { 'main_compressor.lift': lift, 'economizer.power_saved': saved } }),
    ),
  { maxLength: 60 },
);

const total = (parts: readonly Sums[]): Sums => parts.reduce(addSums, NO_SUMS);

test('any split of a period gives the whole', () => {
  fc.assert(
    fc.property(minutes, fc.array(fc.nat(60)), (all, cuts) => {
      const parts = [0, ...cuts.map((cut) => cut % (all.length + 1)), all.length].sort((a, b) => a - b);
      const pieces = parts.slice(1).map((end, index) => total(all.slice(parts[index], end).map((m) => sumsOf(m))));
      expect(closeTo(total(pieces), total(all.map((m) => sumsOf(m))))).toBe(true);
    }),
  );
});

test('the order of minutes and of parts does not matter', () => {
  const shuffled = minutes.chain((all) =>
    fc.record({
      all: fc.constant(all),
      other: fc.shuffledSubarray(all, { minLength: all.length, maxLength: all.length }),
    }),
  );
  fc.assert(
    fc.property(shuffled, ({ all, other }) => {
      expect(closeTo(total(other.map((m) => sumsOf(m))), total(all.map((m) => sumsOf(m))))).toBe(true);
    }),
  );
});

test('stored as JSON and read again it is the same sum', () => {
  fc.assert(
    fc.property(minutes, (all) => {
      const sums = total(all.map((m) => sumsOf(m)));
      const text = JSON.stringify(sums);
      expect(JSON.stringify(addSums(NO_SUMS, JSON.parse(text) as Sums))).toBe(text);
    }),
  );
});

test('every recorded second is used, standing or lacking; bins of what is used hold no more than that', () => {
  fc.assert(
    fc.property(minutes, (all) => {
      const sums = total(all.map((m) => sumsOf(m)));
      const recorded = all.reduce((s, { interval_s }) => s + interval_s, 0);
      expect(sums.recorded_s).toBe(recorded);
      expect(sums.energy.s + sums.standing_s + sums.lacking_s).toBe(recorded);
      const load = Object.values(sums.load).reduce((s, energy) => s + energy.s, 0);
      expect(load).toBe(sums.energy.s);
      const lift = Object.values(sums.lift).reduce((s, energy) => s + energy.s, 0);
      expect(lift).toBeLessThanOrEqual(sums.energy.s);
    }),
  );
});

test('kept errors are never smaller than new ones, and a ratio lies between the least and the greatest of its minutes', () => {
  const running = fc.array(
    fc.record({
      power: fc.double({ min: 50, max: 2000, noNaN: true }),
      capacity: fc.double({ min: 300, max: 9000, noNaN: true }),
    }),
    { minLength: 1, maxLength: 40 },
  );
  fc.assert(
    fc.property(running, (given) => {
      const of = (random_share: number) =>
        energyFigure(total(given.map((each) => sumsOf(minuteOf({ ...each, random_share })))).energy);
      const [kept, fresh] = [of(0), of(1)];
      for (const name of ['kwh', 'ton_hours', 'kw_per_ton'] as const)
        expect((kept.uncertainty[name] ?? 0) * (1 + 1e-9)).toBeGreaterThanOrEqual(fresh.uncertainty[name] ?? 0);
      const ratios = given.map(({ power, capacity }) => (power / capacity) * 3.51685284);
      expect(kept.kw_per_ton).toBeGreaterThanOrEqual(Math.min(...ratios) * (1 - 1e-8));
      expect(kept.kw_per_ton).toBeLessThanOrEqual(Math.max(...ratios) * (1 + 1e-8));
    }),
  );
});

const ZONES = [
  'Europe/Lisbon',
  'America/Chicago',
  'Asia/Kolkata',
  'Australia/Lord_Howe',
  'Asia/Beirut',
  'America/Havana',
  'UTC',
];

test('the days of any span in any zone cover it without gap or overlap, each within one local date', () => {
  const start = Date.UTC(2025, 0, 1);
  fc.assert(
    fc.property(
      fc.constantFrom(...ZONES),
      fc.nat(730 * 24 * 60),
      fc.integer({ min: 1, max: 20 * 24 * 60 }),
      (zone, at, long) => {
        const offsets = zoneOffsets(zone);
        const span = { from: start + at * 60_000, to: start + (at + long) * 60_000 };
        const days = daysOf(span, offsets);
        expect(days[0]?.from).toBe(span.from);
        expect(days.at(-1)?.to).toBe(span.to);
        days.forEach((day, index) => {
          if (index > 0) expect(day.from).toBe(days[index - 1]?.to);
          expect(localDate(day.from, offsets)).toBe(day.name);
          expect(localDate(day.to - 1, offsets)).toBe(day.name);
          expect(day.to - day.from).toBeLessThanOrEqual(25 * HOUR);
        });
      },
    ),
    { numRuns: 60 },
  );
});

test('a year has as many hours by its days as by the clock of UTC, but for the offset at both ends', () => {
  for (const zone of ZONES) {
    const offsets = zoneOffsets(zone);
    const [from, to] = [dayStart('2026-01-01', offsets), dayStart('2027-01-01', offsets)];
    const days = daysOf({ from, to }, offsets);
    expect([zone, days.length]).toEqual([zone, 365]);
    expect((to - from) / DAY).toBe(365 - (offsets(to) - offsets(from)) / DAY);
  }
});
