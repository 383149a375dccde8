/** Heat at the water sides, the capacity by each balance that can give it, and the flows. */
import type { Missing } from '../../base/metric.ts';
import { type Flows, solveFlows } from '../balances.ts';
import type { CapacityMethod, CycleContext, Quantity } from '../context.ts';
import { WATER_RANGE, waterDensity, waterHeatCapacity } from '../water.ts';
import { lossQuantities, netEffect } from './losses.ts';
import { secondMachine, withoutEconomizer } from './machines.ts';
import { ofStorage, shares, taken } from './storage.ts';

/** In order of preference where uncertainties are equal. */
export const CAPACITY_METHODS: readonly CapacityMethod[] = ['chilled_water', 'power', 'condenser_water'];

type Side = 'chilled_water' | 'condenser_water';

const SIDES: readonly Side[] = ['chilled_water', 'condenser_water'];

export const capacityQuantities: readonly Quantity[] = [
  ...lossQuantities,
  ...SIDES.flatMap(waterFlows),
  { name: 'water_heat:chilled_water', compute: (c) => waterHeat(c, 'chilled_water', 'entering', 'leaving') },
  { name: 'water_heat:condenser_water', compute: (c) => waterHeat(c, 'condenser_water', 'leaving', 'entering') },
  {
    // h1 - h6: what each kilogram through the evaporator carries
    name: 'refrigerating_effect',
    compute(c) {
      const carried = c.state('state:1').h - c.state('state:6').h;
      return carried <= 0 ? c.missing('the refrigerant takes up no heat in the evaporator') : carried;
    },
  },
  { name: 'capacity:chilled_water', compute: (c) => c.figure('water_heat:chilled_water') },
  { name: 'capacity:power', compute: byPower },
  {
    name: 'capacity:condenser_water',
    compute(c) {
      const rejected = c.figure('water_heat:condenser_water') + c.figure('ambient_loss');
      const into = c.figure('power_into_circuit') + c.figure('ambient_gain');
      const heat = rejected - into + ofStorage(c, 'stored_energy');
      return heat <= 0 ? c.missing('condenser water carries less heat than the power put in') : heat;
    },
  },
  {
    // Streams per kg/s through the evaporator, motor cooling left out: from the tank's balance.
    name: 'flow_ratios',
    compute: (c) => ratios(c, false),
  },
  {
    // The same as if every level stood: what holds of the machine, and not of this minute alone.
    name: 'standing_ratios',
    compute: (c) => ((c.circuit.stored ?? []).length === 0 ? c.flows('flow_ratios') : ratios(c, true)),
  },
  { name: 'flow_about', compute: flowAbout },
  {
    // y = m_v/m_e, above zero
    name: 'vapour_ratio',
    compute: (c) => vapourRatio(c, 'flow_ratios'),
  },
  { name: 'standing_vapour_ratio', compute: (c) => vapourRatio(c, 'standing_ratios') },
  {
    name: 'flows',
    compute(c) {
      const evaporator = c.figure('evaporator.mass_flow');
      const motor_cooling = c.figure('motor_cooling_flow');
      const bypass = c.figure('bypass_flow');
      const given = { evaporator, motor_cooling, bypass, ...taken(c) };
      return solveFlows(c.circuit, given, (node) => c.state(`state:${node}`).h);
    },
  },
  {
    // The other circuit at the same capacity, motor cooling in proportion.
    name: 'ghost_flows',
    compute(c) {
      if (c.other === null) return c.missing('there is no other way to run');
      const carried = c.figure('refrigerating_effect') / (c.state('ghost:1').h - c.state('ghost:6').h);
      const given = {
        evaporator: c.figure('evaporator.mass_flow') * carried,
        motor_cooling: c.figure('motor_cooling_flow') * carried,
        bypass: c.figure('bypass_flow') * carried,
      };
      return solveFlows(c.other, given, (node) => c.state(`ghost:${node}`).h);
    },
  },
  {
    name: 'motor_cooling_flow',
    compute(c) {
      if (!c.parameters.motor_cooling) return 0;
      const loss = c.figure('main_compressor.power') * (1 - c.assumed('assumed.main_compressor_drive'));
      return loss / (c.state('state:1').h - c.state('state:3').h);
    },
  },
];

/** The liquid would not flash on entering the tank: pressure and temperature contradict each other. */
export const NO_FLASH = 'nothing flashes between these pressures and temperatures: check the points';

function ratios(c: CycleContext, standing: boolean): Flows {
  return solveFlows(c.circuit, shares(c, standing), (node) => c.state(`state:${node}`).h);
}

function vapourRatio(c: CycleContext, of: 'flow_ratios' | 'standing_ratios'): number | Missing {
  if (!c.economizing()) return withoutEconomizer(c);
  const y = c.flows(of).vapour as number;
  return y > 0 ? y : c.missing(NO_FLASH);
}

/**
 * kg/s that boil in the evaporator, near enough to make shares of what is stored: whatever of power depends on those
 * shares, bypass and the room are left out. Another round would move the shares by less than a hundredth of themselves.
 */
function flowAbout(c: CycleContext): number | Missing {
  const effect = c.figure('refrigerating_effect');
  const kept = ofStorage(c, 'stored_heat');
  if (c.has('water_heat:chilled_water')) return (c.figure('water_heat:chilled_water') - kept) / effect;
  if (c.has('standing_specific_power') && c.has('compressors_power')) return flowByPower(c, 'standing');
  const rejected = c.figure('water_heat:condenser_water') - c.figure('power_into_circuit');
  return (rejected + ofStorage(c, 'stored_energy') - kept) / effect;
}

/**
 * Water flow by its meter, else from the pressure drop over the tube bundle: V = V_design (dp/dp_design)^(1/n), times
 * what is not known of the bundle.
 */
function waterFlows(side: Side): Quantity[] {
  return [
    {
      name: `bundle_flow:${side}`,
      compute(c) {
        const bundle = c.parameters[`${side}_bundle`];
        if (bundle === undefined) return c.missing(`${side}_bundle is not configured`);
        const drop = c.point(`${side}.pressure_drop`);
        if (drop <= 0) return c.missing(`${side}.pressure_drop is not above zero`);
        return (
          bundle.flow * (drop / bundle.pressure_drop) ** (1 / bundle.exponent) * c.assumed(`assumed.${side}_bundle`)
        );
      },
    },
    {
      name: `water_flow:${side}`,
      compute: (c) =>
        c.hasPoint(`${side}.flow`) || !c.has(`bundle_flow:${side}`)
          ? c.point(`${side}.flow`)
          : c.figure(`bundle_flow:${side}`),
    },
    {
      // How far meter and bundle are from each other, relative: 0 where they agree.
      name: `flow_contradiction:${side}`,
      compute: (c) => Math.log(c.figure(`bundle_flow:${side}`) / c.point(`${side}.flow`)),
    },
  ];
}

function waterHeat(c: CycleContext, side: Side, warm: string, cold: string): number | Missing {
  const flow = c.figure(`water_flow:${side}`);
  const high = c.point(`${side}.${warm}_temperature`);
  const low = c.point(`${side}.${cold}_temperature`);
  if (Number.isNaN(flow + high + low)) return c.missing('');
  const mean = (high + low) / 2;
  const { density, heat_capacity } = c.parameters.water;
  const pure = density === undefined || heat_capacity === undefined;
  if (pure && !(mean >= WATER_RANGE[0] && mean <= WATER_RANGE[1]))
    return c.missing(`${side.replace('_', ' ')} is outside 0 to 50 degC: give water.density and water.heat_capacity`);
  const heat = (density ?? waterDensity(mean)) * flow * (heat_capacity ?? waterHeatCapacity(mean)) * (high - low);
  return heat <= 0 ? c.missing(`${side.replace('_', ' ')} shows no heat: ${warm} is not warmer than ${cold}`) : heat;
}

/** Capacity from power and discharge temperature: m_e times what each kilogram gives, less what the room gives. */
function byPower(c: CycleContext): number | Missing {
  const flow = flowByPower(c, 'measured');
  if (typeof flow !== 'number') return flow;
  const bypassing = c.figure('bypass_share') > 0;
  const net = netEffect(c, bypassing ? 'measured:main_compressor' : null);
  return typeof net === 'number' ? flow * net - c.figure('ambient_gain') + ofStorage(c, 'stored_heat') : net;
}

/** m_e = P/(w_main/eta + y w_econ/eta); `standing`: as if every level stood. */
function flowByPower(c: CycleContext, way: 'measured' | 'standing'): number | Missing {
  const main = c.figure(`${way}_specific_power`);
  if (Number.isNaN(main)) return c.missing('');
  if (c.has('drive_power:main_compressor')) {
    const own = c.figure('drive_power:main_compressor');
    return own <= 0 ? c.missing('power is not above zero') : own / main;
  }
  const power = c.figure('compressors_power');
  if (power <= 0) return c.missing('power is not above zero');
  if (!secondMachine(c)) return power / main;
  if (c.has('drive_power:economizer_compressor')) {
    const rest = power - c.figure('drive_power:economizer_compressor');
    return rest <= 0 ? c.missing('the economizer compressor takes more than unit.power') : rest / main;
  }
  const vapour = c.figure(way === 'measured' ? 'vapour_ratio' : 'standing_vapour_ratio');
  return power / (main + vapour * c.figure('specific_power:economizer_compressor'));
}
