/**
 * Machines and intervals for the tests of the cycle: condition of the reference figures (5 / 20 / 37 degC, 4 K
 * subcooling).
 */
import { must } from '../../../agent/base/result.ts';
import { type ChillerParameters, chillerParameters } from '../../../agent/cycle/parameters.ts';
import { prepare } from '../../../agent/cycle/solve.ts';
import type { Solution } from '../../../agent/cycle/types.ts';
import type { PointValue, Snapshot } from '../../../agent/points/types.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';

export const R134a = must(refrigerant('R134a'));

export function machine(more: Record<string, unknown> = {}): ChillerParameters {
  return chillerParameters.parse({
    refrigerant: 'R134a',
    arrangement: 'parallel',
    rated_capacity: '1500 ton',
    rated_suction_flow: '3.1 m3/s',
    main_compressor: { drive_efficiency: 1, assumed_isentropic_efficiency: 0.83 },
    economizer_compressor: { drive_efficiency: 1, assumed_isentropic_efficiency: 0.74 },
    ...more,
  });
}

export function good(value: number, u = 0): PointValue {
  return { value, u, quality: 'good', reason: null, age_s: 1, spread: null, n: 12 };
}

export function bad(reason: string): PointValue {
  return { value: null, u: null, quality: 'bad', reason, age_s: null, spread: null, n: 0 };
}

export function uncertain(value: number, u: number, reason: string): PointValue {
  return { ...good(value, u), quality: 'uncertain', reason };
}

export const P_EVAPORATOR = must(R134a.dewPressure(278.15));
export const P_TANK = must(R134a.bubblePressure(293.15));
export const P_CONDENSER = must(R134a.bubblePressure(310.15));
/** W: 1500 tons. */
export const CAPACITY = 1500 * 3516.853;

type Points = Record<string, PointValue>;

/** Two water circuits, the two end pressures. */
export const SET_A: Points = {
  'chilled_water.entering_temperature': good(285.15, 0.1),
  'chilled_water.leaving_temperature': good(279.65, 0.1),
  'condenser_water.entering_temperature': good(302.65, 0.1),
  'condenser_water.leaving_temperature': good(308.15, 0.1),
  'evaporator.pressure': good(P_EVAPORATOR, 5e3),
  'condenser.pressure': good(P_CONDENSER, 8e3),
  'economizer_compressor.running': good(1),
};
export const SET_B: Points = {
  ...SET_A,
  'flash_tank.pressure': good(P_TANK, 5e3),
  'condenser.liquid_temperature': good(306.15, 0.3),
};
/** T2, T8 and power as the forward calculation gives them at 1500 tons. */
export const DISCHARGE = 317.4962285518428;
export const ECONOMIZER_DISCHARGE = 315.0777922427689;
export const POWER = 794_879;
export const SET_C: Points = {
  ...SET_B,
  'unit.power': good(POWER, 0.01 * POWER),
  'main_compressor.discharge_temperature': good(DISCHARGE, 0.7),
};
/** Chilled water flow that carries 1500 tons over 5.5 K at 999.9 kg/m3 and 4197 J/(kg K), near enough for a design. */
const FLOW = CAPACITY / (999.78 * 4196.1 * 5.5);
export const SET_D: Points = {
  ...SET_B,
  'unit.power': good(POWER, 0.01 * POWER),
  'chilled_water.flow': good(FLOW, 0.01 * FLOW),
};
export const SET_CD: Points = { ...SET_C, ...SET_D };

export function snapshot(points: Points): Snapshot {
  return { time: Date.UTC(2026, 6, 1, 12), points };
}

export function solved(points: Points, parameters: ChillerParameters = machine()): Solution {
  return must(prepare(parameters)).solve(snapshot(points));
}

/** The figure's value; a missing one fails the test with its reason. */
export function value(solution: Solution, name: string): number {
  const figure = solution.metrics[name];
  if (figure === undefined) throw new Error(`no metric ${name}`);
  if (figure.value === null) throw new Error(`${name}: ${figure.reason}`);
  return figure.value;
}

export function uncertainty(solution: Solution, name: string): number {
  value(solution, name);
  return solution.metrics[name]?.uncertainty as number;
}

export function reason(solution: Solution, name: string): string | null {
  const figure = solution.metrics[name];
  if (figure === undefined) throw new Error(`no metric ${name}`);
  return figure.reason;
}
