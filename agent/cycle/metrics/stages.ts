/** What lies between the stages of the main compressor: their lifts, the second tank, the subcooler. */
import type { Missing } from '../../base/metric.ts';
import { arrangementOf } from '../arrangements/table.ts';
import type { CycleContext } from '../context.ts';
import { portsOf } from '../quantities/gas.ts';
import { withoutEconomizer } from '../quantities/machines.ts';
import { share } from './flash.ts';
import type { CycleMetric } from './metric.ts';

const STAGES = ['first', 'second', 'third'] as const;

/** Between saturation temperatures: that of the economizer lies between the stages while its vapour joins there. */
function stageLift(at: 0 | 1 | 2): CycleMetric {
  const stage = STAGES[at];
  return {
    name: `main_compressor.${stage}_stage_lift`,
    unit: 'K',
    meaning: `refrigerant lift of the ${stage} stage where vapour joins between stages; with the vapour line closed the pressure between them is not known`,
    formula: 'saturation temperature it delivers to less the one it draws from',
    inputs: [
      'evaporator.pressure',
      'flash_tank.pressure',
      'flash_tank_2.pressure',
      'economizer.pressure',
      'condenser.pressure',
    ],
    compute(c) {
      if (arrangementOf(c.parameters).economizer !== 'between_stages')
        return c.missing('the main compressor is taken as one stage');
      if (!c.economizing()) return withoutEconomizer(c);
      const levels = ['evaporator', ...portsOf(c.circuit).map(({ level }) => level)];
      const from = levels[at];
      if (from === undefined) return c.missing(`the main compressor has no ${stage} stage`);
      const to = levels[at + 1];
      const upper = c.state(to === undefined ? 'liquid:condenser' : `vapour:${to}`);
      return upper.T - c.state(`vapour:${from}`).T;
    },
  };
}

function noSecondTank(c: CycleContext): Missing | null {
  return c.parameters.arrangement === 'interstage' && c.parameters.stages === 3
    ? null
    : c.missing('this arrangement has no second flash tank');
}

function noSubcooler(c: CycleContext): Missing | null {
  return c.parameters.arrangement === 'subcooler' ? null : c.missing('this arrangement has no subcooler');
}

const TANK_2 = ['flash_tank_2.pressure', 'flash_tank_2.temperature'];
const SUBCOOLER = ['economizer.pressure', 'economizer.liquid_temperature', 'economizer.vapour_temperature'];

const secondTank: readonly CycleMetric[] = [
  {
    name: 'flash_tank_2.saturation_temperature',
    unit: 'degC',
    meaning: 'temperature of the vapour in the second flash tank (dew point at its pressure)',
    formula: 'T_dew(flash_tank_2.pressure, else saturation pressure at flash_tank_2.temperature)',
    inputs: TANK_2,
    whenStopped: true,
    compute: (c) => noSecondTank(c) ?? c.state('vapour:flash_tank_2').T,
  },
  {
    name: 'flash_tank_2.flash_fraction',
    unit: '1',
    meaning: 'share of the liquid that flashes to vapour on entering the second flash tank, by mass',
    formula: '(h5 - h12)/(h13 - h12)',
    inputs: ['flash_tank.pressure', ...TANK_2],
    compute(c) {
      const none = noSecondTank(c);
      if (none !== null) return none;
      if (!c.economizing()) return withoutEconomizer(c);
      const h12 = c.state('state:12').h;
      return share(c, (c.state('state:11').h - h12) / (c.state('state:13').h - h12));
    },
  },
  {
    name: 'flash_tank_2.vapour_mass_flow',
    unit: 'kg/s',
    meaning: 'vapour leaving the second flash tank to join behind the first stage',
    formula:
      '(evaporator.mass_flow less what rises in condenser and first tank) x/(1 - x), x = flash_tank_2.flash_fraction',
    inputs: ['evaporator.mass_flow', 'flash_tank_2.flash_fraction'],
    compute(c) {
      const none = noSecondTank(c);
      if (none !== null) return none;
      if (!c.economizing()) return withoutEconomizer(c);
      c.figure('flash_tank_2.flash_fraction');
      return c.figure('evaporator.mass_flow') * (c.flows('flow_ratios').vapour_2 as number);
    },
  },
];

const subcooler: readonly CycleMetric[] = [
  {
    name: 'economizer.saturation_temperature',
    unit: 'degC',
    meaning: 'temperature at which the branch boils off in the subcooler (dew point at its pressure)',
    formula: 'T_dew(economizer.pressure)',
    inputs: ['economizer.pressure'],
    whenStopped: true,
    compute: (c) => noSubcooler(c) ?? c.state('vapour:economizer').T,
  },
  {
    name: 'economizer.vapour_fraction',
    unit: '1',
    meaning: "share of the condenser's liquid that boils off to subcool the rest, by mass",
    formula: '(h3 - h5)/(h7 - h5)',
    inputs: ['condenser.liquid_temperature', 'condenser.pressure', ...SUBCOOLER],
    compute(c) {
      const none = noSubcooler(c);
      if (none !== null) return none;
      if (!c.economizing()) return withoutEconomizer(c);
      const h5 = c.state('state:5').h;
      return share(c, (c.state('state:3').h - h5) / (c.state('state:7').h - h5));
    },
  },
  {
    name: 'economizer.vapour_mass_flow',
    unit: 'kg/s',
    meaning: 'vapour leaving the subcooler to join between the stages',
    formula: '(evaporator.mass_flow - condenser.storage_mass_flow) x/(1 - x), x = economizer.vapour_fraction',
    inputs: ['evaporator.mass_flow', 'economizer.vapour_fraction'],
    compute: (c) => noSubcooler(c) ?? c.figure('evaporator.mass_flow') * c.figure('vapour_ratio'),
  },
  {
    name: 'economizer.approach',
    unit: 'K',
    meaning: 'liquid leaving the subcooler above the temperature at which the branch boils off',
    formula: 'economizer.liquid_temperature - economizer.saturation_temperature',
    inputs: ['economizer.liquid_temperature', 'economizer.pressure'],
    compute(c) {
      const none = noSubcooler(c);
      if (none !== null) return none;
      if (!c.economizing()) return withoutEconomizer(c);
      const above = c.point('economizer.liquid_temperature') - c.state('vapour:economizer').T;
      if (above < 0) c.doubt('below zero: temperature or pressure sensor off, heat does not flow that way');
      return above;
    },
  },
  {
    name: 'economizer.liquid_cooling',
    unit: 'K',
    meaning: "by how much the subcooler cools the condenser's liquid on its way to the evaporator",
    formula: 'condenser.liquid_temperature - economizer.liquid_temperature',
    inputs: ['condenser.liquid_temperature', 'economizer.liquid_temperature'],
    compute(c) {
      const none = noSubcooler(c);
      if (none !== null) return none;
      if (!c.economizing()) return withoutEconomizer(c);
      return c.point('condenser.liquid_temperature') - c.state('state:5').T;
    },
  },
];

export const stageMetrics: readonly CycleMetric[] = [
  stageLift(0),
  stageLift(1),
  stageLift(2),
  ...secondTank,
  ...subcooler,
];
