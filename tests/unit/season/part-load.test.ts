/** Goal: the part-load value is that of the rating standard's formula, and none where the loads did not occur. */
import { expect, test } from 'vitest';
import { PART_LOAD_NOTE, partLoad, weightedPartLoad } from '../../../agent/season/part-load.ts';
import { addSums, NO_SUMS, type Sums, sumsOf } from '../../../agent/season/sums.ts';
import { KW_PER_TON, minuteOf, RATED_KW } from './helpers.ts';

/**
 * COP at 100, 75, 50 and 25 % of the normalised generic centrifugal of DOE-2 as EnergyPlus carries it
 * (datasets/Chillers.idf; condenser water 30, 24.5, 19 and 19 degC as in AHRI 551/591-2011 Table 3), and the weighted
 * value 6.422 of these by the weights in its src/EnergyPlus/StandardRatings.cc.
 */
const COP = [5.431, 6.388, 6.824, 5.12] as const;
const WEIGHTED_COP = 6.422;

const perTon = COP.map((cop) => KW_PER_TON / cop) as [number, number, number, number];

test('in kW/ton the harmonic form gives what the weighted sum of COP gives', () => {
  expect(KW_PER_TON / weightedPartLoad(perTon)).toBeCloseTo(WEIGHTED_COP, 3);
});

function field(minutes: number): Sums {
  let sums = NO_SUMS;
  [1, 0.75, 0.5, 0.25].forEach((load, index) => {
    const capacity = load * RATED_KW;
    const given = { capacity, power: capacity / (COP[index] as number), interval_s: 60 * minutes };
    sums = addSums(sums, sumsOf(minuteOf(given)));
  });
  return sums;
}

test('the same from sums of minutes, marked for what it is', () => {
  const value = partLoad(field(60));
  expect(KW_PER_TON / (value.kw_per_ton ?? 1)).toBeCloseTo(WEIGHTED_COP, 3);
  expect(value.note).toBe(PART_LOAD_NOTE);
  expect(value.note).toContain('not a certified rating');
  // 2 % and 3 % at every load, the same errors throughout: as much of the whole.
  expect((value.uncertainty ?? 0) / (value.kw_per_ton ?? 1)).toBeCloseTo(Math.sqrt(13) / 100, 9);
  expect(value.bands.map(({ load, mean_load }) => [load, Number(mean_load?.toFixed(9))])).toEqual([
    [100, 1],
    [75, 0.75],
    [50, 0.5],
    [25, 0.25],
  ]);
});

test('too little time near a load: none, and which', () => {
  expect(partLoad(field(59)).kw_per_ton).toBeNull();
  const value = partLoad(sumsOf(minuteOf({ capacity: RATED_KW, interval_s: 36_000 })));
  expect(value.kw_per_ton).toBeNull();
  expect(value.reason).toContain('75 %, 50 %, 25 %');
});

test('loads belong to the nearest of the four, and far from all to none', () => {
  const band = (load: number): string[] => Object.keys(sumsOf(minuteOf({ capacity: load * RATED_KW })).band);
  expect([0.1, 0.13, 0.37, 0.38, 0.88, 1.12, 1.2].map(band)).toEqual([
    [],
    ['25'],
    ['25'],
    ['50'],
    ['100'],
    ['100'],
    [],
  ]);
});
