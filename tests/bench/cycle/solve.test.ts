/**
 * Intervals solved per second and core with uncertainties, by point set and by arrangement, beside the calculation
 * without them and beside one property call (p, h) of the same run; growth with the number of points.
 */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { openBooks } from '../../../agent/cycle/books.ts';
import { CYCLE_METRICS } from '../../../agent/cycle/metrics/definitions.ts';
import type { ChillerParameters } from '../../../agent/cycle/parameters.ts';
import { prepare } from '../../../agent/cycle/solve.ts';
import { tablesOf } from '../../../agent/cycle/tables.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import { built, designed, pointsOf, SUBCOOLER, THREE } from '../../unit/cycle/economizers.ts';
import {
  CAPACITY,
  ECONOMIZER_DISCHARGE,
  good,
  machine,
  POWER,
  R134a,
  SET_A,
  SET_B,
  SET_C,
  SET_CD,
  snapshot,
} from '../../unit/cycle/given.ts';

const ROUNDS = 30;
const ROUND = 20;

/** Best of many short rounds, so that other work on the machine disturbs little; microseconds. */
function microseconds(work: () => unknown): number {
  for (let i = 0; i < 3 * ROUND; i++) work();
  let best = Number.POSITIVE_INFINITY;
  for (let round = 0; round < ROUNDS; round++) {
    const start = performance.now();
    for (let i = 0; i < ROUND; i++) work();
    best = Math.min(best, (performance.now() - start) / ROUND);
  }
  return best * 1000;
}

const parameters = machine({ main_compressor: { drive_efficiency: 0.95 }, motor_cooling: true });

const FULL: Record<string, PointValue> = {
  ...SET_CD,
  'main_compressor.suction_temperature': good(279.15, 0.7),
  'economizer_compressor.discharge_temperature': good(ECONOMIZER_DISCHARGE, 0.7),
  'economizer_compressor.power': good(49e3, 490),
  'condenser_water.flow': good((CAPACITY + POWER) / (994.6 * 4178.5 * 5.5), 0.0026),
};

const [subcooled, staged] = [designed(SUBCOOLER), designed(THREE)];
const alone = { main_compressor: { drive_efficiency: 0.95 }, motor_cooling: true };

const ARRANGEMENTS: Record<string, { parameters: ChillerParameters; points: Record<string, PointValue> }> = {
  'no economizer, C + D': { parameters: machine({ arrangement: 'simple', ...alone }), points: SET_CD },
  'two stages, C + D': {
    parameters: machine({ arrangement: 'interstage', ...alone }),
    points: { ...SET_CD, 'economizer.running': good(1) },
  },
  'subcooler, every point': {
    parameters: built(SUBCOOLER, { motor_cooling: true }),
    points: pointsOf(subcooled, SUBCOOLER, true),
  },
  'three stages, every point': {
    parameters: built(THREE, { motor_cooling: true }),
    points: pointsOf(staged, THREE, true),
  },
};

test('solves per second and core', () => {
  const call = microseconds(() => R134a.PH(5.7e5, 2.46e5));
  const solver = must(prepare(parameters));
  const prepared = { parameters, fluid: R134a, tables: tablesOf('parallel') };
  const lines = [`one (p, h) call: ${call.toFixed(2)} us`];
  const costs: number[] = [];
  for (const [name, points] of Object.entries({ A: SET_A, B: SET_B, C: SET_C, 'C + D': SET_CD, full: FULL })) {
    const interval = snapshot(points);
    const whole = microseconds(() => solver.solve(interval));
    const bare = microseconds(() => {
      const { base } = openBooks(prepared, interval, { uncertainty: false });
      return CYCLE_METRICS.map((metric) => base.entry(metric.name));
    });
    costs.push(whole);
    lines.push(
      `${name.padEnd(6)} ${String(Object.keys(points).length).padStart(2)} points: ${(1e6 / whole).toFixed(0)} solves/s with uncertainties ` +
        `(${whole.toFixed(0)} us, ${(whole / bare).toFixed(1)} x the figures alone, ${(whole / call).toFixed(0)} x one call)`,
    );
  }
  const ofArrangement = Object.entries(ARRANGEMENTS).map(([name, { parameters: built, points }]) => {
    const other = must(prepare(built));
    const interval = snapshot(points);
    const cost = microseconds(() => other.solve(interval));
    lines.push(
      `${name.padEnd(30)} ${String(Object.keys(points).length).padStart(2)} points: ${(1e6 / cost).toFixed(0)} solves/s ` +
        `(${cost.toFixed(0)} us, ${(cost / (costs[3] as number)).toFixed(2)} x parallel with C + D)`,
    );
    return cost;
  });
  // both paths are closed by rounds of some six property calls, for each cause of error
  expect(Math.max(...ofArrangement) / (costs[3] as number)).toBeLessThan(25);
  console.log(lines.join('\n'));
  // the cost of a minute grows no faster than points times what one of them touches
  expect((costs.at(-1) as number) / (costs[0] as number)).toBeLessThan(200);
});
