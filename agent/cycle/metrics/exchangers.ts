/** Condenser and evaporator as heat exchangers. */
import type { Missing } from '../../base/metric.ts';
import type { CycleContext } from '../context.ts';
import type { CycleMetric } from './metric.ts';

const EVAPORATOR = ['evaporator.pressure', 'chilled_water.entering_temperature', 'chilled_water.leaving_temperature'];
const CONDENSER = ['condenser.pressure', 'condenser_water.entering_temperature', 'condenser_water.leaving_temperature'];

export const exchangerMetrics: readonly CycleMetric[] = [
  {
    name: 'evaporator.approach',
    unit: 'K',
    meaning: 'leaving chilled water above the temperature at which the refrigerant boils',
    formula: 'chilled_water.leaving_temperature - evaporator.saturation_temperature',
    inputs: ['chilled_water.leaving_temperature', 'evaporator.pressure'],
    compute: (c) => approach(c, c.point('chilled_water.leaving_temperature') - c.state('vapour:evaporator').T),
  },
  {
    name: 'condenser.approach',
    unit: 'K',
    meaning: 'condensing temperature above leaving condenser water',
    formula: 'condenser.saturation_temperature - condenser_water.leaving_temperature',
    inputs: ['condenser_water.leaving_temperature', 'condenser.pressure'],
    compute: (c) => approach(c, c.state('liquid:condenser').T - c.point('condenser_water.leaving_temperature')),
  },
  {
    name: 'evaporator.ua',
    unit: 'kW/K',
    meaning: 'heat taken up per kelvin of mean temperature difference',
    formula: 'unit.capacity/LMTD(chilled water, evaporator.saturation_temperature)',
    inputs: ['unit.capacity', ...EVAPORATOR],
    curved: true,
    compute(c) {
      const T = c.state('vapour:evaporator').T;
      const warm = c.point('chilled_water.entering_temperature') - T;
      return perKelvin(c, c.figure('unit.capacity'), warm, c.point('chilled_water.leaving_temperature') - T);
    },
  },
  {
    name: 'condenser.ua',
    unit: 'kW/K',
    meaning: 'heat rejected per kelvin of mean temperature difference',
    formula: 'condenser.heat_rejected/LMTD(condenser.saturation_temperature, condenser water)',
    inputs: ['condenser.heat_rejected', ...CONDENSER],
    curved: true,
    compute(c) {
      const T = c.state('liquid:condenser').T;
      const warm = T - c.point('condenser_water.entering_temperature');
      return perKelvin(
        c,
        c.figure('condenser.heat_rejected'),
        warm,
        T - c.point('condenser_water.leaving_temperature'),
      );
    },
  },
  {
    name: 'condenser.heat_rejected',
    unit: 'kW',
    meaning: 'heat given to the condenser water: from its flow, else from the balance of the whole chiller',
    formula:
      'rho c V (T_out - T_in) of condenser water, else unit.capacity + power into the circuit, less losses to the room',
    inputs: ['condenser_water.flow', ...CONDENSER.slice(1), 'unit.capacity', 'unit.power'],
    compute(c) {
      if (c.has('water_heat:condenser_water')) return c.figure('water_heat:condenser_water');
      const into = c.figure('unit.capacity') + c.figure('ambient_gain') + c.figure('power_into_circuit');
      return into - c.figure('ambient_loss');
    },
  },
];

/** Heat does not flow uphill: below zero a sensor is off by at least that. */
function approach(c: CycleContext, difference: number): number {
  if (difference < 0) c.doubt('below zero: temperature or pressure sensor off, heat does not flow that way');
  return difference;
}

/** Q/LMTD with the larger and the smaller end difference. */
function perKelvin(c: CycleContext, heat: number, larger: number, smaller: number): number | Missing {
  if (Number.isNaN(heat + larger + smaller)) return c.missing('');
  if (smaller <= 0) return c.missing('leaving water lies beyond the saturation temperature: check the sensors');
  if (larger <= smaller) return c.missing('the water does not change temperature the right way');
  return heat / ((larger - smaller) / Math.log(larger / smaller));
}
