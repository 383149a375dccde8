/**
 * Saturation temperatures, subcooling, lifts and pressure ratios: what pressures and a few temperatures give without
 * any flow.
 */

import type { MachineName } from '../arrangements/type.ts';
import { absent } from '../quantities/machines.ts';
import type { CycleMetric } from './metric.ts';

const saturation: readonly CycleMetric[] = [
  {
    name: 'evaporator.saturation_temperature',
    unit: 'degC',
    meaning: 'boiling temperature at evaporator pressure (dew point)',
    formula: 'T_dew(evaporator.pressure)',
    inputs: ['evaporator.pressure'],
    whenStopped: true,
    compute: (c) => c.state('vapour:evaporator').T,
  },
  {
    name: 'condenser.saturation_temperature',
    unit: 'degC',
    meaning: 'condensing temperature at condenser pressure (bubble point)',
    formula: 'T_bubble(condenser.pressure)',
    inputs: ['condenser.pressure'],
    whenStopped: true,
    compute: (c) => c.state('liquid:condenser').T,
  },
  {
    name: 'flash_tank.saturation_temperature',
    unit: 'degC',
    meaning: 'temperature of the vapour in the flash tank (dew point at its pressure)',
    formula: 'T_dew(flash_tank.pressure, else saturation pressure at flash_tank.temperature)',
    inputs: ['flash_tank.pressure', 'flash_tank.temperature'],
    whenStopped: true,
    compute: (c) =>
      c.parameters.arrangement === 'simple' || c.parameters.arrangement === 'subcooler'
        ? c.missing('this arrangement has no flash tank')
        : c.state('vapour:flash_tank').T,
  },
  {
    name: 'condenser.subcooling',
    unit: 'K',
    meaning: 'how far the liquid leaving the condenser is below its boiling point; below zero only by measuring error',
    formula: 'condenser.saturation_temperature - condenser.liquid_temperature',
    inputs: ['condenser.pressure', 'condenser.liquid_temperature'],
    compute: (c) => c.state('liquid:condenser').T - c.point('condenser.liquid_temperature'),
  },
  {
    name: 'main_compressor.suction_superheat',
    unit: 'K',
    meaning: 'how far the suction gas is above saturation; below zero only by measuring error',
    formula: 'main_compressor.suction_temperature - evaporator.saturation_temperature',
    inputs: ['main_compressor.suction_temperature', 'evaporator.pressure'],
    compute: (c) => c.point('main_compressor.suction_temperature') - c.state('vapour:evaporator').T,
  },
];

function ofMachine(name: MachineName, suction: string): readonly CycleMetric[] {
  const label = name.replace('_', ' ');
  const from = name === 'main_compressor' ? 'evaporator' : 'flash_tank';
  const inputs = [`${from}.pressure`, 'condenser.pressure'];
  return [
    {
      name: `${name}.lift`,
      unit: 'K',
      meaning: `refrigerant lift of the ${label}: saturation temperature it delivers to less the one it draws from (not the leaving-water difference)`,
      formula: `condenser.saturation_temperature - ${from}.saturation_temperature`,
      inputs,
      compute: (c) => absent(c, name) ?? c.state('liquid:condenser').T - c.state(`vapour:${from}`).T,
    },
    {
      name: `${name}.pressure_ratio`,
      unit: '1',
      meaning: `pressure ratio of the ${label}`,
      formula: `condenser.pressure/${from}.pressure`,
      inputs,
      compute: (c) => absent(c, name) ?? c.figure(`p_out:${name}`) / c.state(suction).p,
    },
    {
      name: `${name}.isentropic_head`,
      unit: 'kJ/kg',
      meaning: `work per kilogram of an ideal ${label} between these pressures`,
      formula: name === 'main_compressor' ? 'h(p_cond, s1) - h1' : 'h(p_cond, s7) - h7',
      inputs: name === 'main_compressor' ? [...inputs, 'main_compressor.suction_temperature'] : inputs,
      compute: (c) => absent(c, name) ?? c.state(`isentropic:${name}`).h - c.state(suction).h,
    },
    {
      name: `${name}.discharge_superheat`,
      unit: 'K',
      meaning: `discharge gas of the ${label} above saturation at condenser pressure`,
      formula: `${name}.discharge_temperature - T_dew(condenser.pressure)`,
      inputs: [`${name}.discharge_temperature`, 'condenser.pressure'],
      compute: (c) => absent(c, name) ?? c.point(`${name}.discharge_temperature`) - c.state('vapour:condenser').T,
    },
  ];
}

export const pressureMetrics: readonly CycleMetric[] = [
  ...saturation,
  ...ofMachine('main_compressor', 'state:1'),
  ...ofMachine('economizer_compressor', 'state:7'),
];
