/** The chiller as a whole. Its scope is the chiller alone, without pumps and tower. */

import type { CapacityMethod, CycleContext } from '../context.ts';
import { CAPACITY_METHODS } from '../quantities/capacity.ts';
import { secondMachine } from '../quantities/machines.ts';
import { ofStorage } from '../quantities/storage.ts';
import type { CycleMetric } from './metric.ts';

const SCOPE = 'the chiller alone, without pumps and tower';
const POWER_INPUTS = ['unit.power', 'main_compressor.power', 'economizer_compressor.power'];

const FROM: Record<
  CapacityMethod,
  { readonly of: string; readonly formula: string; readonly inputs: readonly string[] }
> = {
  chilled_water: {
    of: 'chilled water flow and temperatures',
    formula: 'rho c V (T_in - T_out) of chilled water',
    inputs: ['chilled_water.flow', 'chilled_water.entering_temperature', 'chilled_water.leaving_temperature'],
  },
  power: {
    of: 'power and main compressor discharge temperature',
    formula: '(h1 - h6) P/((h2 - h1)/eta_drive,main + y (h8 - h7)/eta_drive,econ)',
    inputs: [
      'unit.power',
      'main_compressor.power',
      'main_compressor.discharge_temperature',
      'flash_tank.flash_fraction',
    ],
  },
  condenser_water: {
    of: 'condenser water flow and temperatures, less the power put in',
    formula: 'rho c V (T_out - T_in) of condenser water - power into the circuit',
    inputs: [
      'condenser_water.flow',
      'condenser_water.entering_temperature',
      'condenser_water.leaving_temperature',
      'unit.power',
    ],
  },
};

const byMethod = CAPACITY_METHODS.map(
  (method): CycleMetric => ({
    name: `unit.capacity_from_${method}`,
    unit: 'kW',
    meaning: `cooling capacity from ${FROM[method].of}`,
    formula: FROM[method].formula,
    inputs: FROM[method].inputs,
    asMeasured: true,
    compute: (c) => c.figure(`capacity:${method}`),
  }),
);

/**
 * Electrical power of the chiller: meters, else the main compressor's meter and the economizer's from its flow and
 * work.
 */
function power(c: CycleContext): number {
  if (c.has('unit_power') || !secondMachine(c) || !c.has('drive_power:main_compressor')) return c.figure('unit_power');
  return c.figure('drive_power:main_compressor') + c.figure('economizer_compressor.power');
}

export const unitMetrics: readonly CycleMetric[] = [
  ...byMethod,
  {
    name: 'unit.capacity',
    summed: true,
    unit: 'kW',
    meaning:
      'cooling capacity, by the balance with the smallest uncertainty of those possible: unit.capacity_method says which',
    formula: 'unit.capacity_from_chilled_water, unit.capacity_from_power or unit.capacity_from_condenser_water',
    inputs: CAPACITY_METHODS.map((method) => `unit.capacity_from_${method}`),
    compute(c) {
      if (c.capacityMethod !== null) return c.figure(`capacity:${c.capacityMethod}`);
      const reasons = CAPACITY_METHODS.map((method) => c.why(`capacity:${method}`) ?? '');
      const bad = reasons.find((reason) => reason.includes(' is bad'));
      return c.missing(bad ?? `no balance gives the capacity: ${[...new Set(reasons)].join('; ')}`);
    },
  },
  {
    name: 'unit.capacity_method',
    unit: 'state',
    meaning:
      'balance that unit.capacity comes from: 1 chilled water, 2 power and discharge temperature, 3 condenser water less power',
    formula: 'of those possible the one with the smallest uncertainty; this order where equal',
    inputs: CAPACITY_METHODS.map((method) => `unit.capacity_from_${method}`),
    compute(c) {
      c.figure('unit.capacity');
      return c.capacityMethod === null ? c.missing('') : CAPACITY_METHODS.indexOf(c.capacityMethod) + 1;
    },
  },
  {
    name: 'unit.load_fraction',
    unit: '1',
    meaning: 'capacity over rated capacity',
    formula: 'unit.capacity/rated capacity',
    inputs: ['unit.capacity'],
    compute: (c) => c.figure('unit.capacity') / c.parameters.rated_capacity,
  },
  {
    name: 'unit.power',
    summed: true,
    unit: 'kW',
    meaning: `electrical power of ${SCOPE}: its meter, else the compressors together, else amps x volts x power factor x sqrt(3) (6 %); never from percent current`,
    formula: 'unit.power, else main_compressor.power + economizer_compressor.power',
    inputs: [...POWER_INPUTS, 'main_compressor.current', 'main_compressor.voltage', 'main_compressor.power_factor'],
    whenStopped: true,
    compute: power,
  },
  {
    name: 'unit.kw_per_ton',
    summed: true,
    unit: 'kw_per_ton',
    meaning: `electrical power per ton of refrigeration (3.516853 kW), ${SCOPE}`,
    formula: 'unit.power/unit.capacity',
    inputs: ['unit.power', 'unit.capacity'],
    compute(c) {
      const used = c.figure('unit.power');
      return used <= 0 ? c.missing('power is not above zero') : used / c.figure('unit.capacity');
    },
  },
  {
    name: 'unit.cop',
    unit: '1',
    meaning: `cooling capacity over electrical power, ${SCOPE}`,
    formula: 'unit.capacity/unit.power',
    inputs: ['unit.power', 'unit.capacity'],
    compute(c) {
      const used = c.figure('unit.power');
      return used <= 0 ? c.missing('power is not above zero') : c.figure('unit.capacity') / used;
    },
  },
  {
    name: 'unit.carnot_fraction',
    unit: '1',
    meaning: `COP over that of an ideal machine between leaving chilled water and leaving condenser water, ${SCOPE}`,
    formula: 'unit.cop (T_cdw,out - T_chw,out)/T_chw,out in kelvin',
    inputs: ['unit.cop', 'chilled_water.leaving_temperature', 'condenser_water.leaving_temperature'],
    compute(c) {
      const cold = c.point('chilled_water.leaving_temperature');
      const lift = c.point('condenser_water.leaving_temperature') - cold;
      if (lift <= 0) return c.missing('condenser water leaves no warmer than chilled water');
      if (cold <= 0) return c.missing('chilled_water.leaving_temperature is below absolute zero');
      return (c.figure('unit.cop') * lift) / cold;
    },
  },
  {
    name: 'unit.heat_balance_error',
    unit: '1',
    meaning:
      'heat in less heat out over their mean, both by water flows. The tolerance of rating standards is for a laboratory: a figure to look at, not to alarm on',
    formula:
      '(E_in - E_out)/((E_in + E_out)/2), E_in = capacity from chilled water + power into the circuit, E_out = heat to condenser water + what the vessels store',
    inputs: ['unit.capacity_from_chilled_water', 'condenser_water.flow', 'unit.power'],
    asMeasured: true,
    compute(c) {
      const into = c.figure('water_heat:chilled_water') + c.figure('ambient_gain') + c.figure('power_into_circuit');
      const stored = ofStorage(c, 'stored_energy');
      const out = c.figure('water_heat:condenser_water') + c.figure('ambient_loss') + stored;
      return (into - out) / ((into + out) / 2);
    },
  },
];
