/** Goal: sums, ratios and their uncertainties are those that can be worked out by hand. */
import { expect, test } from 'vitest';
import { type Energy, energyFigure, plantEnergyFigure, uncertaintyParts } from '../../../agent/season/energy.ts';
import { amountFigure, moneyFigure } from '../../../agent/season/season.ts';
import {
  addSums,
  NO_AMOUNT,
  NO_SUMS,
  type SeasonMinute,
  type Sums,
  seasonMinute,
  sumsOf,
} from '../../../agent/season/sums.ts';
import { type Given, KW_PER_TON, minuteOf, recordOf } from './helpers.ts';

function total(minutes: readonly Given[], random_share = 0): Sums {
  return minutes.reduce((sums, given) => addSums(sums, sumsOf(minuteOf({ ...given, random_share }))), NO_SUMS);
}

const repeated = (count: number, given: Given): Given[] => Array.from({ length: count }, () => given);

test('kW/ton is energy over ton-hours, not the mean of the minutes: by hand', () => {
  // 60 minutes at 600 kW for 1000 tons (0.6) and 60 at 90 kW for 100 tons (0.9): 690 kWh over 1100 ton-hours.
  const figure = energyFigure(
    total([
      ...repeated(60, { power: 600, capacity: 1000 * KW_PER_TON }),
      ...repeated(60, { power: 90, capacity: 100 * KW_PER_TON }),
    ]).energy,
  );
  expect(figure.kwh).toBeCloseTo(690, 9);
  expect(figure.ton_hours).toBeCloseTo(1100, 9);
  expect(figure.kw_per_ton).toBeCloseTo(690 / 1100, 12);
  expect(figure.minutes).toBe(120);
});

test('an interval counts by its length', () => {
  const figure = energyFigure(
    total([
      { interval_s: 10, power: 360 },
      { interval_s: 900, power: 360 },
    ]).energy,
  );
  expect(figure.kwh).toBeCloseTo((360 * 910) / 3600, 9);
});

test('kept errors do not average out: a year of minutes is as unsure as one of them', () => {
  const one = energyFigure(total([{ power: 700, capacity: 4000 }]).energy);
  const many = energyFigure(total(repeated(1000, { power: 700, capacity: 4000 })).energy);
  const relative = (e: typeof one): (number | null)[] => [
    (e.uncertainty.kwh ?? 0) / e.kwh,
    (e.uncertainty.ton_hours ?? 0) / e.ton_hours,
    (e.uncertainty.kw_per_ton ?? 0) / (e.kw_per_ton ?? 1),
  ];
  // 2 % and 3 %, nothing in common: sqrt(4 + 9) % of the ratio (JCGM 100, products and quotients).
  for (const figure of [one, many]) {
    const [kwh, ton_hours, ratio] = relative(figure);
    expect(kwh).toBeCloseTo(0.02, 9);
    expect(ton_hours).toBeCloseTo(0.03, 9);
    expect(ratio).toBeCloseTo(Math.sqrt(13) / 100, 9);
  }
});

test('errors new in each minute average out by the square root of their number', () => {
  const many = energyFigure(total(repeated(100, { power: 700, capacity: 4000 }), 1).energy);
  expect((many.uncertainty.kwh ?? 0) / many.kwh).toBeCloseTo(0.002, 9);
  expect((many.uncertainty.ton_hours ?? 0) / many.ton_hours).toBeCloseTo(0.003, 9);
  expect((many.uncertainty.kw_per_ton ?? 0) / (many.kw_per_ton ?? 1)).toBeCloseTo(Math.sqrt(13) / 1000, 9);
});

test('half of the variance kept, half new: both parts by the root of the sum of squares', () => {
  const many = energyFigure(total(repeated(100, { power: 700, capacity: 4000 }), 0.5).energy);
  expect((many.uncertainty.kwh ?? 0) / many.kwh).toBeCloseTo(0.02 * Math.sqrt(0.5 + 0.5 / 100), 9);
});

test('an offset of the capacity that is the same at every load: the season moves as it does, by hand', () => {
  // Capacity reads 100 kW high at all loads, power is exact: the true ratio is P/(Q - 100 n).
  const loads = [1000, 2000, 3000, 4000];
  const energy = total(
    loads.map((capacity) => ({ capacity, power: 0.15 * capacity + 100, u_power: 0, u_capacity: 100 })),
  ).energy;
  const figure = energyFigure(withPowerExact(energy));
  const [P, Q] = [0.15 * 10000 + 400, 10000];
  const moved = (P / (Q - 400) - P / (Q + 400)) / 2;
  expect(figure.uncertainty.kw_per_ton).toBeCloseTo(moved * KW_PER_TON, 2);
  // First order, as published: dR = R dQ/Q.
  expect(figure.uncertainty.kw_per_ton).toBeCloseTo(((P / Q) * 400 * KW_PER_TON) / Q, 9);
});

/** A meter without error publishes no uncertainty; here it is known to have none. */
function withPowerExact(energy: Energy): Energy {
  return { ...energy, unsure_s: 0 };
}

test('power and capacity from one meter: what they share leaves the ratio', () => {
  // Both 3 % from the same source: the ratio of the minute is certain, and so is that of the season.
  const shared = energyFigure(total(repeated(50, { power: 600, u_power: 18, u_ratio: 0 })).energy);
  expect(shared.uncertainty.kw_per_ton).toBeLessThan(1e-6);
  expect((shared.uncertainty.kwh ?? 0) / shared.kwh).toBeCloseTo(0.03, 9);
});

test('minutes without uncertainty leave the season without one, and are counted', () => {
  const energy = total([{}, { u_power: null }]).energy;
  expect(energyFigure(energy).uncertainty).toEqual({ ton_hours: null, kwh: null, kw_per_ton: null });
  expect(energy.unsure_s).toBe(60);
});

test.each([
  ['off', { state: 'off', power: 2, capacity: null }, 'standing_s'],
  ['standstill', { state: 'standstill', power: null, capacity: null }, 'standing_s'],
  ['stopping with the water already equal', { state: 'stopping', power: 1, capacity: null }, 'standing_s'],
  ['running without capacity', { capacity: null }, 'lacking_capacity_s'],
  ['running without power', { power: null }, 'lacking_power_s'],
  ['nobody knows', { state: 'unknown' }, 'unknown_s'],
] as const)('an interval %s is not used, and counted for what it is', (_, given, where) => {
  const sums = sumsOf(minuteOf(given));
  expect(sums.energy.s).toBe(0);
  expect(sums.recorded_s).toBe(60);
  expect(sums[where]).toBe(60);
  expect(sums.standing_s + sums.lacking_s).toBe(60);
});

test('a moving machine is used, and its minutes are told as uncertain', () => {
  const sums = sumsOf(minuteOf({ state: 'pull-down', doubts: ['unit.capacity'] }));
  expect([sums.energy.s, sums.doubtful_s]).toEqual([60, 60]);
});

test('economizer off: it takes nothing and saves nothing, and what is missed is summed', () => {
  const more = { 'economizer.missed_saving': 30, 'economizer.power_saved': null, 'economizer_compressor.power': null };
  const { amounts, economizer_off_s } = sumsOf(minuteOf({ economizer: 'off', more }));
  expect(economizer_off_s).toBe(60);
  expect([amounts.saved.kws, amounts.saved.lacking_s]).toEqual([0, 0]);
  expect([amounts.economizer_compressor.s, amounts.economizer_compressor.kws]).toEqual([60, 0]);
  expect(amounts.missed.kws).toBe(1800);
});

test('economizer on without a figure: lacking, not zero', () => {
  const { amounts } = sumsOf(minuteOf({ economizer: 'on', more: { 'economizer.power_saved': null } }));
  expect([amounts.saved.s, amounts.saved.lacking_s]).toEqual([0, 60]);
});

test('an interval on the edge of a bin belongs to the one above, beyond the last to the last', () => {
  const bins = (load: number): string[] =>
    Object.keys(sumsOf(minuteOf({ more: {}, capacity: load * 1500 * KW_PER_TON })).load);
  expect([bins(0.3), bins(0.7), bins(0.69999), bins(9)]).toEqual([['3'], ['7'], ['6'], ['14']]);
});

test('a record that is none of an interval is none', () => {
  for (const record of [null, 3, 'x', [], {}, { interval_s: 0, values: {} }, { interval_s: 60 }])
    expect(seasonMinute(record, 0)).toBeNull();
});

test('power of a compressor, at standstill and in money: what is new adds by its square, what lasts as it is', () => {
  // 100 minutes at 20 kW U of which 0.36 of the square is new: 16 kW lasts, 12 kW is new
  const share = { u_power: 20, random_share: 0.36 };
  const still = { ...share, state: 'standstill', capacity: null, power: 400 };
  const { standing } = total(repeated(100, still), 0.36);
  expect(standing.kept).toBeCloseTo(100 * 60 * 16, 6);
  expect(Math.sqrt(standing.random ?? 0)).toBeCloseTo(Math.sqrt(100) * 60 * 12, 6);
  expect(amountFigure(standing).uncertainty).toBeCloseTo(Math.hypot(100 * 16, 10 * 12) / 60, 9);
  // a running machine beside it, by the same meter: 200 minutes of 16 kW that lasts, 200 squares of 12 kW that is new
  const both = addSums(total(repeated(100, still), 0.36), total(repeated(100, { ...share, power: 800 }), 0.36));
  const nothing = amountFigure(NO_AMOUNT);
  const money = moneyFigure(
    { price_per_kwh: 2, currency: 'EUR' },
    { machines: [both], saved: nothing, missed: nothing },
  );
  expect(money.uncertainty.energy).toBeCloseTo((2 * Math.hypot(200 * 16, Math.sqrt(200) * 12)) / 60, 6);
});

test('minutes and hours stored before the parts were told apart: all of it lasts', () => {
  const old = JSON.parse(recordOf({ power: 700, capacity: 4000 })) as Record<string, unknown>;
  delete old['random_share'];
  const sums = sumsOf(seasonMinute(old, 0) as SeasonMinute);
  expect([sums.energy.power_random, sums.energy.capacity_random]).toEqual([0, 0]);
  expect(sums.energy.power_kept).toBeCloseTo(60 * 14, 9);
  const { random: _, ...stored } = sums.standing;
  const hour = addSums({ ...sums, standing: stored }, total([{ state: 'off', power: 5, u_power: 1 }], 1));
  expect(hour.standing.random).toBeCloseTo(3600, 9);
});

test('both parts of a period make its uncertainty, and add over machines each in its own way', () => {
  const machine = total(repeated(50, { power: 600, capacity: 3500 }), 0.5).energy;
  for (const sharing of ['apart', 'common'] as const) {
    const { kept, random } = uncertaintyParts([machine, machine], sharing);
    const one = uncertaintyParts([machine], sharing);
    const { uncertainty } = plantEnergyFigure([machine, machine], sharing);
    for (const name of ['kwh', 'ton_hours'] as const) {
      expect(kept[name]).toBeCloseTo((one.kept[name] ?? 0) * (sharing === 'common' ? 2 : Math.SQRT2), 6);
      expect(random[name]).toBeCloseTo((one.random[name] ?? 0) * Math.SQRT2, 6);
      expect(uncertainty[name]).toBeCloseTo(Math.hypot(kept[name] ?? 0, random[name] ?? 0), 9);
    }
  }
});
