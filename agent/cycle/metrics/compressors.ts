/** Power and efficiencies of the compressors. */
import type { Missing } from '../../base/metric.ts';
import { arrangementOf } from '../arrangements/table.ts';
import type { MachineName } from '../arrangements/type.ts';
import type { CycleContext } from '../context.ts';
import type { ChillerParameters } from '../parameters.ts';
import { absent } from '../quantities/machines.ts';
import type { CycleMetric } from './metric.ts';

/** Where the economizer's efficiency is assumed it goes into the figure as a divisor, and is not small. */
export const ASSUMED = 'assumed.economizer_compressor_efficiency';

const DRY =
  'from the discharge temperature (which assumes dry suction: 1 % of liquid in it shows as 8 points too many, 1 K as 3 points), else from power and flow. Judge its drift, not its height';

function efficiencies(name: MachineName, suction: string): readonly CycleMetric[] {
  const label = name.replace('_', ' ');
  const [into, out] = name === 'main_compressor' ? ['1', '2'] : ['7', '8'];
  const inputs = [
    'evaporator.pressure',
    'condenser.pressure',
    'flash_tank.pressure',
    `${name}.discharge_temperature`,
    `${name}.power`,
    'unit.power',
  ];
  return [
    {
      name: `${name}.isentropic_efficiency`,
      unit: '1',
      meaning: `ideal over real work of the ${label}, ${DRY}`,
      formula: `(h(p_cond, s${into}) - h${into})/(h${out} - h${into})`,
      inputs,
      compute(c) {
        const gone = absent(c, name);
        if (gone !== null) return gone;
        if (sidePort(c))
          return c.missing('over all stages it has no meaning, their flows differ: see the polytropic one');
        const { h } = c.state(suction);
        const eta = (c.state(`isentropic:${name}`).h - h) / (c.state(`known:${name}`).h - h);
        return plausible(c, eta, label);
      },
    },
    {
      name: `${name}.polytropic_efficiency`,
      unit: '1',
      meaning: `efficiency of a small step of compression in the ${label}, ${DRY}`,
      formula: 'integral of v dp along a path of constant efficiency, over the enthalpy rise',
      inputs,
      compute(c) {
        const gone = absent(c, name);
        if (gone !== null) return gone;
        return plausible(c, c.figure(`polytropic:${name}`), label);
      },
    },
  ];
}

/** The efficiency of the main compressor that has a meaning with the economizer on and off alike. */
export function efficiencyName(parameters: ChillerParameters): string {
  const staged = arrangementOf(parameters).economizer === 'between_stages';
  return `main_compressor.${staged ? 'polytropic' : 'isentropic'}_efficiency`;
}

/** Vapour joins between the stages of the main compressor. */
function sidePort(c: CycleContext): boolean {
  return arrangementOf(c.parameters).economizer === 'between_stages' && c.economizing();
}

function plausible(c: CycleContext, eta: number, label: string): number | Missing {
  if (!(eta > 0 && eta < 2)) return c.missing(`no efficiency of the ${label} follows from these points`);
  if (eta > 0.98) c.doubt(`efficiency of the ${label} near or above 1: liquid in the suction, or a sensor`);
  else if (eta < 0.2) c.doubt(`efficiency of the ${label} under 0.2: a sensor, or another way of running`);
  return eta;
}

export const compressorMetrics: readonly CycleMetric[] = [
  ...efficiencies('main_compressor', 'state:1'),
  ...efficiencies('economizer_compressor', 'state:7'),
  {
    name: 'main_compressor.power',
    summed: true,
    unit: 'kW',
    meaning:
      'electrical power of the main compressor: its meter, else amps x volts x power factor x sqrt(3), else what is left of unit.power, else from its flow',
    formula:
      'main_compressor.power, else unit.power - auxiliary_power - economizer_compressor.power, else evaporator.mass_flow (h2 - h1)/drive efficiency',
    inputs: ['main_compressor.power', 'unit.power', 'economizer_compressor.power', 'evaporator.mass_flow'],
    compute(c) {
      if (c.has('main_drive_power')) return c.figure('main_drive_power');
      if (c.has('evaporator.mass_flow') && c.has('specific_power:main_compressor'))
        return c.figure('evaporator.mass_flow') * c.figure('specific_power:main_compressor');
      return c.figure('main_drive_power');
    },
  },
  {
    name: 'economizer_compressor.power',
    summed: true,
    unit: 'kW',
    meaning: 'electrical power of the economizer compressor: its meter, else from tank vapour flow and work',
    formula: 'economizer_compressor.power, else flash_tank.vapour_mass_flow (h8 - h7)/drive efficiency',
    inputs: [
      'economizer_compressor.power',
      'flash_tank.vapour_mass_flow',
      'economizer_compressor.discharge_temperature',
    ],
    curved: ASSUMED,
    compute: (c) => c.figure('economizer_drive_power'),
  },
  {
    name: 'economizer_compressor.power_share',
    unit: '1',
    meaning: "part of the compressors' power that the economizer compressor takes",
    formula: 'y w_econ/(w_main + y w_econ) with electrical work per kilogram',
    inputs: [
      'flash_tank.flash_fraction',
      'main_compressor.discharge_temperature',
      'economizer_compressor.discharge_temperature',
    ],
    curved: ASSUMED,
    compute(c) {
      const gone = absent(c, 'economizer_compressor');
      if (gone !== null) return gone;
      if (c.has('drive_power:economizer_compressor') && c.has('main_drive_power')) {
        const own = c.figure('drive_power:economizer_compressor');
        return own / (own + c.figure('main_drive_power'));
      }
      const vapour = c.figure('vapour_ratio') * c.figure('specific_power:economizer_compressor');
      return vapour / (c.figure('specific_power:main_compressor') + vapour);
    },
  },
];
