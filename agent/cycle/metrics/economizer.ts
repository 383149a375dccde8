/** What the economizer saves, compared at the same pressures, liquid temperature and main efficiency. */
import type { Missing } from '../../base/metric.ts';
import type { CycleContext } from '../context.ts';
import { absent, withoutEconomizer } from '../quantities/machines.ts';
import { ASSUMED } from './compressors.ts';
import type { CycleMetric } from './metric.ts';
import { surgeMargin } from './surge.ts';

const SAVING_INPUTS = [
  'evaporator.pressure',
  'condenser.pressure',
  'flash_tank.pressure',
  'flash_tank_2.pressure',
  'economizer.pressure',
  'economizer.liquid_temperature',
  'condenser.liquid_temperature',
  'main_compressor.discharge_temperature',
  'economizer_compressor.discharge_temperature',
];

const SAVING_FORMULA =
  'parallel: 1 - a [1 + y (w_econ/eta_drive,econ)/(w_main/eta_drive,main)], a = (h1 - h3)/(h1 - h6), w_main = h2 - h1, w_econ = h8 - h7, y = x4/(1 - x4); vapour joining between stages: 1 - W/W0, W0 = capacity/(h1 - h3) x work from p_evap to p_cond at the same polytropic efficiency';

/**
 * s = 1 - (P/(h1 - h5))/(P0/(h1 - h3)) with the electrical work P per kilogram through the evaporator; `way` picks the
 * circuit with the economizer running.
 */
function saving(c: CycleContext, way: 'state' | 'ghost'): number | Missing {
  const h1 = c.state('state:1').h;
  const h3 = c.state('state:3').h;
  const h6 = c.state(`${way}:6`).h;
  // 4 only exists where the pressures are in order
  if (Number.isNaN(c.state(`${way}:4`).h + h6)) return c.missing('');
  return 1 - (((h1 - h3) / (h1 - h6)) * c.figure('specific_power_with')) / c.figure('specific_power_without');
}

/** Main efficiency without over with economizer where neither the site file nor the machine's own past tells it. */
export const DEFAULT_RATIO = { low: 0.97, high: 1.03 } as const;

/**
 * Power without economizer goes with 1 over the efficiency there: s_r = 1 - (1 - s) r with r = eta without/eta with.
 * The saving is least where the main compressor runs best without economizer, at its larger flow.
 */
function bound(name: 'low' | 'high'): CycleMetric {
  const ratio = name === 'low' ? 'high' : 'low';
  return {
    name: `economizer.saving_fraction_${name}`,
    unit: '1',
    meaning: `${name === 'low' ? 'least' : 'greatest'} saving for what is known of r, the main compressor's efficiency without economizer, at its larger flow, over that with it: efficiency_ratio of the site file, else as learned (economizer.efficiency_ratio with its uncertainty), else ${DEFAULT_RATIO.low} to ${DEFAULT_RATIO.high}; may be negative`,
    formula: `1 - (1 - economizer.saving_fraction) r, r the ${ratio === 'high' ? 'highest' : 'lowest'}: efficiency_ratio.${ratio} of the site file, else economizer.efficiency_ratio ${ratio === 'high' ? '+' : '-'} its uncertainty, else ${DEFAULT_RATIO[ratio]}`,
    inputs: ['economizer.saving_fraction'],
    compute: (c) =>
      1 - (1 - c.figure('economizer.saving_fraction')) * (c.parameters.efficiency_ratio ?? DEFAULT_RATIO)[ratio],
  };
}

export const economizerMetrics: readonly CycleMetric[] = [
  {
    name: 'economizer.saving_fraction',
    unit: '1',
    meaning:
      'power saved by the economizer as a part of what the machine would need without it, at the same evaporator and condenser pressure, liquid temperature and main efficiency; may be negative',
    formula: SAVING_FORMULA,
    inputs: SAVING_INPUTS,
    curved: ASSUMED,
    compute: (c) => (c.economizing() ? saving(c, 'state') : withoutEconomizer(c)),
  },
  bound('low'),
  bound('high'),
  {
    name: 'economizer.saving_fraction_resolved',
    unit: '1',
    meaning:
      'the same with the condenser solved anew: without economizer it rejects more heat and condenses warmer, at the same water flow, entering temperature and UA; only where the site file asks for it',
    formula:
      '1 - W/W0(T_c0), T_c0 = T_cdw,in + (T_c - T_cdw,in) Q_c0/Q_c, with the same subcooling and main efficiency',
    inputs: [...SAVING_INPUTS, 'condenser_water.entering_temperature'],
    compute: (c) => c.flows('resolved_without')['saving'] ?? c.missing(''),
  },
  {
    name: 'economizer.condensing_temperature_without',
    unit: 'degC',
    meaning: 'temperature at which the machine would condense without economizer, at equal capacity',
    formula: 'T_c0 of economizer.saving_fraction_resolved',
    inputs: ['economizer.saving_fraction_resolved'],
    compute: (c) => c.flows('resolved_without')['T'] ?? c.missing(''),
  },
  {
    name: 'economizer.power_saved',
    summed: true,
    unit: 'kW',
    meaning:
      'electrical power that the machine without economizer would need more at equal capacity; uncertain where its main compressor could not carry the flow',
    formula: 's/(1 - s) unit.power, s = economizer.saving_fraction',
    inputs: ['economizer.saving_fraction', 'unit.power', 'evaporator.mass_flow'],
    curved: ASSUMED,
    compute(c) {
      if (!c.economizing()) return withoutEconomizer(c);
      const s = c.figure('economizer.saving_fraction');
      const saved = (s / (1 - s)) * c.figure('unit.power');
      attainable(c);
      return saved;
    },
  },
  {
    name: 'economizer.suction_volume_flow_without',
    unit: 'm3/s',
    meaning: 'gas volume that the main compressor would have to draw in for this capacity without economizer',
    formula: 'unit.capacity/((h1 - h3) rho1), with motor cooling in proportion',
    inputs: ['unit.capacity', 'evaporator.pressure', 'condenser.liquid_temperature'],
    compute(c) {
      if (!c.economizing()) return withoutEconomizer(c);
      const { h, rho } = c.state('state:1');
      const more = c.figure('refrigerating_effect') / (h - c.state('state:3').h);
      return (c.figure('main_compressor.mass_flow') * more) / rho;
    },
  },
  {
    name: 'economizer.refrigerating_effect_gain',
    unit: '1',
    meaning: 'extra heat that each kilogram carries through the evaporator, relative to direct expansion',
    formula: '(h3 - h6)/(h1 - h3)',
    inputs: SAVING_INPUTS.slice(0, 7),
    compute(c) {
      if (!c.economizing()) return withoutEconomizer(c);
      const h3 = c.state('state:3').h;
      return (h3 - c.state('state:6').h) / (c.state('state:1').h - h3);
    },
  },
  {
    name: 'economizer.missed_saving_fraction',
    unit: '1',
    meaning:
      'part of the present power that the stopped economizer would save; tank pressure taken near the geometric mean, economizer efficiency assumed; withheld where the smaller flow would take the main compressor too near to surge',
    formula: SAVING_FORMULA,
    inputs: SAVING_INPUTS.slice(0, 8),
    compute(c) {
      const running = notMissing(c);
      if (running !== null) return running;
      const s = saving(c, 'ghost');
      c.doubt('tank pressure and economizer efficiency are assumed while the economizer is off');
      return nearSurge(c) ?? s;
    },
  },
  {
    name: 'economizer.missed_saving',
    summed: true,
    unit: 'kW',
    meaning: 'electrical power that the stopped economizer would save at equal capacity',
    formula: 'economizer.missed_saving_fraction unit.power',
    inputs: ['economizer.missed_saving_fraction', 'unit.power'],
    compute: (c) => notMissing(c) ?? c.figure('economizer.missed_saving_fraction') * c.figure('unit.power'),
  },
  {
    name: 'subcooling.economizer_power_avoided',
    unit: 'kW',
    meaning: 'economizer compressor power at zero subcooling less the present one, at equal capacity',
    formula: '(y0 - y) evaporator.mass_flow (h8 - h7)/drive efficiency, y0 with h3 = h_bubble(p_cond)',
    inputs: ['evaporator.mass_flow', ...SAVING_INPUTS],
    curved: ASSUMED,
    compute(c) {
      const gone = absent(c, 'economizer_compressor');
      if (gone !== null) return gone;
      const h5 = c.state('state:5').h;
      const h7 = c.state('state:7').h;
      const y = (h3: number) => (h3 - h5) / (h7 - h3);
      const more = y(c.state('liquid:condenser').h) - y(c.state('state:3').h);
      return more * c.figure('evaporator.mass_flow') * c.figure('specific_power:economizer_compressor');
    },
  },
];

/** With the economizer on the same capacity takes less flow: why that is too little here, or null. */
function nearSurge(c: CycleContext): Missing | null {
  if (c.parameters.surge_line === undefined) return null;
  const h1 = c.state('state:1').h;
  const margin = surgeMargin(c, (h1 - c.state('state:3').h) / (h1 - c.state('ghost:6').h));
  if (typeof margin !== 'number') return margin;
  const least = c.parameters.least_surge_margin;
  if (margin >= least) return null;
  return c.missing(`withheld: with the economizer on the main compressor would keep less than ${least} from surge`);
}

/** Null where the machine has an economizer that is off. */
function notMissing(c: CycleContext): Missing | null {
  if (c.parameters.arrangement === 'simple') return c.missing('this arrangement has no economizer');
  return c.economizing() ? c.missing('the economizer is on: nothing is missed') : null;
}

function attainable(c: CycleContext): void {
  const rated = c.parameters.rated_suction_flow;
  if (rated === undefined) {
    c.doubt('whether it is attainable is not known: rated_suction_flow is not configured');
  } else if (c.figure('economizer.suction_volume_flow_without') > rated) {
    c.doubt('not attainable: without economizer this capacity asks for more than the rated suction flow');
  }
}
