/**
 * Goal: errors that last and errors that are new in each interval add over time as the guide to uncertainty says, from
 * a sensor's readings to a season.
 * Sources: JCGM 100:2008 (GUM) 5.2.2 with its example of ten resistors, and F.1.2.3 example 2 (their correlation);
 * quoted from memory.
 */
import { describe, expect, test } from 'vitest';
import { energyFigure } from '../../../agent/season/energy.ts';
import { addSums, NO_SUMS, type Sums, sumsOf } from '../../../agent/season/sums.ts';
import { CASES } from '../../proof/drawn-season.ts';
import { covered } from '../../proof/season-uncertainty.ts';
import { type Given, minuteOf } from '../../unit/season/helpers.ts';

const HOUR = 3600;

function total(given: readonly Given[]): Sums {
  return given.reduce((sums, each) => addSums(sums, sumsOf(minuteOf(each))), NO_SUMS);
}

/** Ten hours at 1000 kW with 0.1 kW (k = 1) of an error that lasts, and `random` (k = 1) that is new in each. */
function tenHours(random: number): Given[] {
  const u = 2 * Math.hypot(0.1, random);
  const random_share = random ** 2 / (0.1 ** 2 + random ** 2);
  return Array.from({ length: 10 }, () => ({ interval_s: HOUR, power: 1000, u_power: u, random_share }));
}

/** JCGM 100 eq. (16) with all sensitivities 1: the double sum over every pair, k = 1. */
function byPairs(u: number, correlation: number, n: number): number {
  let variance = 0;
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) variance += u * u * (i === j ? 1 : correlation);
  return Math.sqrt(variance);
}

describe('ten resistors of 1000 ohm calibrated by one standard, in series: ten hours at 1000 kW', () => {
  test('all of the error the standard resistor: 1 ohm of 10 kohm, not the 0.32 ohm of independent ones (5.2.2)', () => {
    const { kwh, uncertainty } = energyFigure(total(tenHours(0)).energy);
    expect(kwh).toBeCloseTo(10_000, 9);
    expect((uncertainty.kwh ?? 0) / 2).toBeCloseTo(1, 12);
    expect(byPairs(0.1, 1, 10)).toBeCloseTo(1, 12);
    expect(byPairs(0.1, 0, 10)).toBeCloseTo(0.32, 2);
  });

  // u(alpha) of each comparison, relative to 1e-4 of the standard: r = 1/(1 + (u(alpha)/1e-4)^2).
  test.each([
    [100e-6, 0.5],
    [10e-6, 0.99],
    [1e-6, 1],
  ])('a comparison of its own of %f each: correlation %f (F.1.2.3), and the sum by every pair', (alpha, printed) => {
    const random = 1000 * alpha;
    const r = 1 / (1 + (alpha / 1e-4) ** 2);
    expect(r).toBeCloseTo(printed, 3);
    const { uncertainty } = energyFigure(total(tenHours(random)).energy);
    expect((uncertainty.kwh ?? 0) / 2).toBeCloseTo(byPairs(Math.hypot(0.1, random), r, 10), 9);
  });
});

test('power over cooling: kept and new errors of both by the product rule, each part with its own number', () => {
  // n equal minutes, power 2 % and capacity 3 % of which a share w is new, nothing in common:
  // u^2 of the ratio = (2^2 + 3^2) [(1 - w) + w/n], JCGM 100 eq. (12) for a quotient.
  const [n, w] = [100, 0.36];
  const given = Array.from({ length: n }, () => ({ power: 700, capacity: 4000, random_share: w }));
  const { kw_per_ton, uncertainty } = energyFigure(total(given).energy);
  const relative = (uncertainty.kw_per_ton ?? 0) / (kw_per_ton ?? 1);
  expect(relative).toBeCloseTo(0.01 * Math.sqrt(13 * (1 - w + w / n)), 9);
});

/**
 * Coverage of k = 1.96 is 95 % where the stated uncertainty is right. With so many seasons a share of 95 % has a
 * standard deviation of sqrt(0.95 0.05/n), a standard deviation one of 1/sqrt(2 n): four of them either way. All errors
 * counted as lasting would cover every season, none would cover two thirds and fewer.
 * tests/proof/season-uncertainty.ts looks closer.
 */
test.each([
  ['water side and power meter', 120],
  ['the same, sensors ten times as good', 120],
  ['and the condenser water', 80],
] as const)(
  'Monte Carlo of seasons, %s: intervals of 95 percent cover that',
  { timeout: 300_000 },
  async (name, seasons) => {
    const of = CASES[name] as (typeof CASES)[string];
    for (const { figure, ratio, coverage } of await covered(of, { seasons, minutes: 12, seed: 7 })) {
      expect([figure, Math.abs(coverage - 0.95) < 4 * Math.sqrt((0.95 * 0.05) / seasons)]).toEqual([figure, true]);
      expect([figure, Math.abs(ratio - 1) < 4 / Math.sqrt(2 * seasons)]).toEqual([figure, true]);
    }
  },
);
