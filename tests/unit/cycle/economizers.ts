/** Machines with a subcooler and with three stages, and their points as the forward calculation gives them. */
import { must } from '../../../agent/base/result.ts';
import { type Design, design } from '../../../agent/cycle/design.ts';
import type { ChillerParameters } from '../../../agent/cycle/parameters.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import { good, machine } from './given.ts';

type Points = Record<string, PointValue>;

export const CAPACITY = 900 * 3516.853;
const COMMON = {
  refrigerant: 'R1233zdE',
  evaporator: { T: 278.15, superheat: 0.5 },
  condenser: { T: 310.15, subcooling: 4 },
  compressors: [{ polytropic_efficiency: 0.82, drive_efficiency: 0.95 }],
  capacity: CAPACITY,
};
export const SUBCOOLER = {
  ...COMMON,
  arrangement: 'subcooler',
  tanks: [{ T: 293.15 }],
  subcooler: { approach: 3, superheat: 2 },
};
export const THREE = { ...COMMON, arrangement: 'interstage', tanks: [{ T: 298.15 }, { T: 287.15 }] };

export function built(given: typeof SUBCOOLER | typeof THREE, more: Record<string, unknown> = {}): ChillerParameters {
  return machine({
    refrigerant: 'R1233zdE',
    arrangement: given.arrangement,
    stages: given.tanks.length + 1,
    rated_capacity: '900 ton',
    main_compressor: { drive_efficiency: 0.95 },
    ...more,
  });
}

export function designed(given: typeof SUBCOOLER | typeof THREE, economizer: 'on' | 'off' = 'on'): Design {
  return must(design({ ...given, economizer }));
}

/** Every point that tells the circuit; `on` from the design with the economizer running. */
export function pointsOf(d: Design, given: typeof SUBCOOLER | typeof THREE, on: boolean): Points {
  const state = (node: string) => d.states[node] as { T: number; p: number };
  const middle: Points =
    given === THREE
      ? { 'flash_tank.pressure': good(state('4').p, 1030), 'flash_tank_2.pressure': good(state('11').p, 830) }
      : on
        ? {
            'economizer.pressure': good(state('7').p, 1030),
            'economizer.liquid_temperature': good(state('5').T, 0.3),
            'economizer.vapour_temperature': good(state('7').T, 0.7),
          }
        : {};
  return {
    ...middle,
    'economizer.running': good(on ? 1 : 0),
    'evaporator.pressure': good(state('1').p, 680),
    'condenser.pressure': good(state('3').p, 1720),
    'condenser.liquid_temperature': good(state('3').T, 0.3),
    'main_compressor.suction_temperature': good(state('1').T, 0.7),
    'main_compressor.discharge_temperature': good(state('10').T, 0.7),
    'unit.power': good(d.power, 0.01 * d.power),
  };
}
