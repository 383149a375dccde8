/**
 * Goal: what is new in each interval of a figure's uncertainty is told from what lasts, whatever the balances make of
 * the readings; the whole stays as it was.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { CYCLE_METRICS } from '../../../agent/cycle/metrics/definitions.ts';
import { prepare } from '../../../agent/cycle/solve.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import { SUMMED_FIGURES } from '../../../agent/season/sums.ts';
import { CAPACITY, good, machine, POWER, SET_CD, snapshot } from './given.ts';

type Points = Record<string, PointValue>;

/** `random`: the part of a point's uncertainty that is new in the interval. */
function scattered(points: Points, random: Readonly<Record<string, number>>): Points {
  return Object.fromEntries(
    Object.entries(points).map(([name, point]) => {
      const fresh = random[name] ?? 0;
      return [name, { ...point, u: Math.hypot(point.u as number, fresh), u_random: fresh }];
    }),
  );
}

const ENTERING = 'chilled_water.entering_temperature';
const LEAVING = 'chilled_water.leaving_temperature';

const WATER: Points = {
  [ENTERING]: good(285.15, 0.1),
  [LEAVING]: good(279.65, 0.1),
  'chilled_water.flow': good(0.23, 0.0023),
  'unit.power': good(800e3, 8e3),
  'economizer_compressor.running': good(1),
};

describe('chilled water and a power meter alone', () => {
  const solver = must(prepare(machine()));
  const random = { [ENTERING]: 0.03, [LEAVING]: 0.04, 'chilled_water.flow': 0.001, 'unit.power': 6e3 };
  const { metrics } = solver.solve(snapshot(scattered(WATER, random)));

  test('capacity: (u_flow/flow)^2 + (u_1^2 + u_2^2)/dT^2 of both parts, by hand (JCGM 100 eq. 12)', () => {
    // 5.5 K across; new: flow 0.001/0.23, difference of 0.05 K by 3, 4, 5
    const fresh = (0.001 / 0.23) ** 2 + (0.05 / 5.5) ** 2;
    const lasting = 0.01 ** 2 + (2 * 0.1 ** 2) / 5.5 ** 2;
    expect(metrics['unit.capacity']?.random_share).toBeCloseTo(fresh / (fresh + lasting), 2);
    const { value, uncertainty } = metrics['unit.capacity'] as { value: number; uncertainty: number };
    expect(uncertainty / value / 2).toBeCloseTo(Math.sqrt(fresh + lasting), 3);
  });

  test('power: 6 of 10 kW is new, 0.36 of the square', () => {
    expect(metrics['unit.power']?.uncertainty).toBeCloseTo(20, 9);
    expect(metrics['unit.power']?.random_share).toBeCloseTo(0.36, 4);
  });

  test('kW/ton: both by the quotient', () => {
    const fresh = (0.001 / 0.23) ** 2 + (0.05 / 5.5) ** 2 + (6 / 800) ** 2;
    const lasting = 0.01 ** 2 + (2 * 0.1 ** 2) / 5.5 ** 2 + 0.01 ** 2;
    expect(metrics['unit.kw_per_ton']?.random_share).toBeCloseTo(fresh / (fresh + lasting), 2);
  });
});

describe('reconciled', () => {
  const solver = must(prepare(machine({ main_compressor: { drive_efficiency: 0.95 }, motor_cooling: true })));
  const points: Points = {
    ...SET_CD,
    'condenser_water.flow': good((CAPACITY + POWER) / (994.6 * 4178.5 * 5.5), 0.0026),
  };
  const random = Object.fromEntries(
    Object.entries(points).map(([name, { u }], i) => [name, (0.2 + 0.1 * (i % 6)) * (u as number)]),
  );
  const mine = scattered(points, random);
  const found = solver.solve(snapshot(mine));

  test('the share is that of each reading, moved by a little through the whole solution', () => {
    for (const metric of ['unit.capacity', 'unit.power', 'unit.kw_per_ton', 'main_compressor.power']) {
      const at = (name: string, by: number): number => {
        const point = mine[name] as PointValue;
        const moved = solver.solve(snapshot({ ...mine, [name]: { ...point, value: (point.value as number) + by } }));
        return moved.metrics[metric]?.value as number;
      };
      let variance = 0;
      for (const [name, fresh] of Object.entries(random)) {
        if (fresh === 0) continue;
        const step = 0.2 * (mine[name]?.u as number);
        variance += (((at(name, step) - at(name, -step)) / (2 * step)) * fresh) ** 2;
      }
      const figure = found.metrics[metric] as { uncertainty: number; random_share: number };
      expect(figure.random_share / (variance / (figure.uncertainty / 2) ** 2)).toBeCloseTo(1, 1);
    }
  });

  test('the whole uncertainty is the same, told apart or not', () => {
    const whole = Object.fromEntries(Object.entries(mine).map(([name, { u_random: _, ...rest }]) => [name, rest]));
    const before = solver.solve(snapshot(whole));
    for (const [name, { random_share, ...rest }] of Object.entries(found.metrics)) {
      expect([name, rest]).toEqual([name, before.metrics[name]]);
      expect(random_share === undefined || (random_share > 0 && random_share < 1)).toBe(true);
    }
  });

  test('a sensor that lost its weight hands on no scatter that would average out', () => {
    const { u_random: _, ...still } = mine['chilled_water.flow'] as PointValue;
    const share = (of: Points, suspects: string[][]): number | undefined =>
      solver.solve(snapshot(of), suspects).metrics['unit.capacity']?.random_share;
    const without = { ...mine, 'chilled_water.flow': still };
    expect(share(mine, [['chilled_water.flow']])).toBe(share(without, [['chilled_water.flow']]));
    expect(share(mine, [])).not.toBe(share(without, []));
  });
});

test('a matched pair has its calibration in common, not its scatter: 0.05 K and both of these in quadrature', () => {
  const solver = must(prepare(machine({ matched_water_sensors: true })));
  const exact = { 'chilled_water.flow': good(0.23), 'unit.power': good(800e3) };
  const relative = (points: Points): number => {
    const figure = solver.solve(snapshot(points)).metrics['unit.capacity'];
    return (figure?.uncertainty as number) / 2 / (figure?.value as number);
  };
  expect(relative({ ...WATER, ...exact }) * 5.5).toBeCloseTo(0.05, 3);
  const fresh = scattered({ ...WATER, ...exact }, { [ENTERING]: 0.03, [LEAVING]: 0.04 });
  expect(relative(fresh) * 5.5).toBeCloseTo(Math.hypot(0.05, 0.03, 0.04), 3);
  // each by itself is as uncertain as it was: its scatter is not counted twice
  const { points } = solver.solve(snapshot(fresh)).reconciliation;
  expect([points[ENTERING]?.after, points[LEAVING]?.after]).toEqual([
    expect.closeTo(Math.hypot(0.1, 0.03), 9),
    expect.closeTo(Math.hypot(0.1, 0.04), 9),
  ]);
});

test('whatever hours add up is told apart', () => {
  const summed = CYCLE_METRICS.filter((metric) => metric.summed === true).map(({ name }) => name);
  expect([...SUMMED_FIGURES].sort()).toEqual(summed.sort());
});
