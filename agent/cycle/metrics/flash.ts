/** How much of the liquid flashes at each valve, and what the flows are. */
import type { Missing } from '../../base/metric.ts';
import type { CycleContext } from '../context.ts';
import { NO_FLASH } from '../quantities/capacity.ts';
import { absent, withoutTank } from '../quantities/machines.ts';
import { ofStorage } from '../quantities/storage.ts';
import type { CycleMetric } from './metric.ts';

const TANK_INPUTS = [
  'flash_tank.pressure',
  'flash_tank.temperature',
  'condenser.liquid_temperature',
  'condenser.pressure',
];

export const flashMetrics: readonly CycleMetric[] = [
  {
    name: 'flash_tank.flash_fraction',
    unit: '1',
    meaning: 'share of the liquid that flashes to vapour on entering the flash tank, by mass',
    formula: '(h4 - h5)/(h7 - h5), h4 = h3',
    inputs: TANK_INPUTS,
    compute(c) {
      const gone = withoutTank(c);
      if (gone !== null) return gone;
      const h5 = c.state('state:5').h;
      return share(c, (c.state('state:4').h - h5) / (c.state('state:7').h - h5));
    },
  },
  {
    name: 'flash_tank.flash_fraction_without_subcooling',
    unit: '1',
    meaning:
      'flash fraction of the tank if the condenser liquid were saturated; the difference is the part of subcooling',
    formula: '(h_bubble(p_cond) - h5)/(h7 - h5)',
    inputs: ['flash_tank.pressure', 'flash_tank.temperature', 'condenser.pressure'],
    compute(c) {
      const gone = withoutTank(c);
      if (gone !== null) return gone;
      const h5 = c.state('state:5').h;
      return share(c, (c.state('liquid:condenser').h - h5) / (c.state('state:7').h - h5));
    },
  },
  {
    name: 'evaporator.flash_fraction',
    unit: '1',
    meaning: 'share of the refrigerant that enters the evaporator as vapour, by mass',
    formula: '(h6 - h_bubble(p_evap))/(h_dew(p_evap) - h_bubble(p_evap)); h6 = h5, with the economizer off h6 = h3',
    inputs: ['evaporator.pressure', ...TANK_INPUTS],
    compute(c) {
      const hf = c.state('liquid:evaporator').h;
      return share(c, (c.state('state:6').h - hf) / (c.state('vapour:evaporator').h - hf));
    },
  },
  {
    name: 'evaporator.flash_fraction_without_economizer',
    unit: '1',
    meaning: 'share that would enter the evaporator as vapour if the condenser liquid expanded straight to it',
    formula: '(h3 - h_bubble(p_evap))/(h_dew(p_evap) - h_bubble(p_evap))',
    inputs: ['evaporator.pressure', 'condenser.liquid_temperature', 'condenser.pressure'],
    compute(c) {
      const hf = c.state('liquid:evaporator').h;
      return share(c, (c.state('state:3').h - hf) / (c.state('vapour:evaporator').h - hf));
    },
  },
  {
    name: 'evaporator.mass_flow',
    unit: 'kg/s',
    meaning: 'refrigerant through the evaporator: what boils in it',
    formula:
      '(unit.capacity + heat from the room)/(h1 - h6), less what hot-gas bypass brings along and what liquid stored takes',
    inputs: ['unit.capacity'],
    compute(c) {
      const heat = c.figure('unit.capacity') + c.figure('ambient_gain') - ofStorage(c, 'stored_heat');
      return heat / c.figure('net_effect');
    },
  },
  {
    name: 'flash_tank.vapour_mass_flow',
    unit: 'kg/s',
    meaning: 'vapour leaving the flash tank to the economizer compressor, or in between the stages',
    formula: '(evaporator.mass_flow - condenser.storage_mass_flow) x4/(1 - x4)',
    inputs: ['evaporator.mass_flow', 'flash_tank.flash_fraction'],
    compute(c) {
      return withoutTank(c) ?? c.figure('evaporator.mass_flow') * c.figure('vapour_ratio');
    },
  },
  {
    name: 'main_compressor.mass_flow',
    unit: 'kg/s',
    meaning: 'refrigerant through the main compressor: that of the evaporator, of motor cooling and of hot-gas bypass',
    formula: '(evaporator.mass_flow + motor heat/(h1 - h3))/(1 - share bypassed)',
    inputs: ['evaporator.mass_flow', 'main_compressor.power'],
    compute: (c) => c.figure('evaporator.mass_flow') + c.figure('motor_cooling_flow') + c.figure('bypass_flow'),
  },
  {
    name: 'condenser.mass_flow',
    unit: 'kg/s',
    meaning: 'refrigerant leaving the condenser',
    formula: 'main_compressor.mass_flow + vapour from the economizer - condenser.storage_mass_flow',
    inputs: ['main_compressor.mass_flow', 'flash_tank.vapour_mass_flow', 'economizer.vapour_mass_flow'],
    compute(c) {
      const { drained, condenser } = c.flows('flows');
      return drained ?? (condenser as number);
    },
  },
  {
    name: 'main_compressor.suction_volume_flow',
    unit: 'm3/s',
    meaning: 'gas volume that the main compressor draws in',
    formula: 'main_compressor.mass_flow/rho1',
    inputs: ['main_compressor.mass_flow', 'evaporator.pressure'],
    compute: (c) => c.figure('main_compressor.mass_flow') / c.state('state:1').rho,
  },
  {
    name: 'economizer_compressor.suction_volume_flow',
    unit: 'm3/s',
    meaning: 'gas volume that the economizer compressor draws in',
    formula: 'flash_tank.vapour_mass_flow/rho7',
    inputs: ['flash_tank.vapour_mass_flow', 'flash_tank.pressure'],
    compute(c) {
      const gone = absent(c, 'economizer_compressor');
      if (gone !== null) return gone;
      return c.figure('flash_tank.vapour_mass_flow') / c.state('state:7').rho;
    },
  },
];

/** A share of vapour lies between nothing and all, or the points contradict each other. */
export function share(c: CycleContext, x: number): number | Missing {
  if (Number.isNaN(x)) return c.missing('');
  return x > 0 && x < 1 ? x : c.missing(NO_FLASH);
}
