/** A two-stage machine of 900 tons, and its points as the forward calculation of one condition gives them. */
import { must } from '../../../agent/base/result.ts';
import { type Design, design } from '../../../agent/cycle/design.ts';
import type { ChillerParameters } from '../../../agent/cycle/parameters.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import { good, machine } from './given.ts';

type Points = Record<string, PointValue>;

export const CAPACITY = 900 * 3516.853;
export const CONDITION = {
  refrigerant: 'R1233zdE',
  arrangement: 'interstage',
  evaporator: { T: 278.15, superheat: 0.5 },
  tanks: [{ T: 293.15 }],
  condenser: { T: 310.15, subcooling: 4 },
  compressors: [{ polytropic_efficiency: 0.82 }],
  capacity: CAPACITY,
};
export const ON = must(design(CONDITION));
export const OFF = must(design({ ...CONDITION, economizer: 'off' }));

export const two = (more: Record<string, unknown> = {}): ChillerParameters =>
  machine({ refrigerant: 'R1233zdE', arrangement: 'interstage', rated_capacity: '900 ton', ...more });

export function pointsOf(d: Design, running: 0 | 1): Points {
  const state = (node: string) => d.states[node] as { T: number; p: number };
  return {
    'economizer.running': good(running),
    'evaporator.pressure': good(state('1').p, 680),
    'flash_tank.pressure': good(state('4').p, 1030),
    'condenser.pressure': good(state('3').p, 1720),
    'condenser.liquid_temperature': good(state('3').T, 0.3),
    'main_compressor.suction_temperature': good(state('1').T, 0.7),
    'main_compressor.discharge_temperature': good(state('10').T, 0.7),
    'unit.power': good(d.power, 0.01 * d.power),
    'chilled_water.entering_temperature': good(285.15, 0.1),
    'chilled_water.leaving_temperature': good(279.65, 0.1),
    'condenser_water.entering_temperature': good(302.65, 0.1),
    'condenser_water.leaving_temperature': good(308.15, 0.1),
  };
}
export const POINTS = pointsOf(ON, 1);
export const without = (points: Points, ...names: string[]): Points =>
  Object.fromEntries(Object.entries(points).filter(([name]) => !names.includes(name)));
export const chilled = (heat: number): Points => {
  const V = heat / (999.78 * 4196.1 * 5.5);
  return { 'chilled_water.flow': good(V, 0.003 * V) };
};
export const condensing = (heat: number): Points => {
  const V = heat / (994.6 * 4178.5 * 5.5);
  return { 'condenser_water.flow': good(V, 0.01 * V) };
};
