/**
 * Two stages with the tank's vapour joining between them. Nothing is measured there: the states between the stages
 * follow from one polytropic efficiency that leads over both stages to the discharge, or from efficiencies given.
 * Works are per kilogram through the evaporator: the stages carry different flows.
 */
import type { Missing } from '../../base/metric.ts';
import type { State } from '../../refrigerant/types.ts';
import { interstage } from '../arrangements/interstage.ts';
import type { Machine } from '../arrangements/type.ts';
import type { Flows } from '../balances.ts';
import type { CycleContext, Quantity } from '../context.ts';
import { polytropicEnd, twoStages } from '../polytropic.ts';
import { byTemperature, economizerQuantities, polytropic, specificPower, stageEnd } from './machines.ts';

const [MAIN] = interstage.on.machines as readonly [Machine];

/** Change of the flow ratio under which motor cooling and work agree. */
const NEAR_ENOUGH = 1e-12;
const ROUNDS_MAX = 30;

/** What is compressed: suction, tank vapour, what leaves the condenser, and vapour per kg through the evaporator. */
interface Gas {
  readonly suction: State;
  readonly vapour: State;
  readonly h3: number;
  readonly y: number;
}

/** J/kg: leaving the first stage, mixed, leaving the second; suction flow per kg/s through the evaporator. */
interface Compressed {
  readonly first: number;
  readonly second: number;
  readonly end: number;
  readonly k: number;
}

type Stage = (from: State, to: number, name: 'first_stage' | 'second_stage') => State | Missing;

/** The compressor while vapour joins between its stages. */
export const twoStageQuantities: readonly Quantity[] = [
  ...economizerQuantities,
  { name: 'p_out:main_compressor', compute: (c) => c.figure('p:condenser') },
  {
    // An ideal machine between the end pressures without side stream.
    name: 'isentropic:main_compressor',
    compute(c) {
      const { p, s } = c.state('state:1');
      const out = c.figure('p_out:main_compressor');
      if (Number.isNaN(p + out)) return c.missing('');
      if (out <= p) return c.missing('pressure does not rise over the main compressor');
      return c.take(c.refrigerant.PS(out, s));
    },
  },
  { name: 'measured:main_compressor', compute: (c) => byTemperature(c, MAIN) },
  { name: 'by_power:main_compressor', compute: byPower },
  {
    name: 'known:main_compressor',
    compute(c) {
      if (c.has('measured:main_compressor')) return c.state('measured:main_compressor');
      if (c.has('by_power:main_compressor')) return c.state('by_power:main_compressor');
      return c.state('measured:main_compressor');
    },
  },
  ...(['first_stage', 'second_stage'] as const).flatMap((stage): Quantity[] => [
    { name: `polytropic_given:${stage}`, compute: (c) => c.missing('none is given') },
    { name: `efficiency_given:${stage}`, compute: (c) => c.assumed('assumed.main_compressor_efficiency') },
  ]),
  { name: 'compression', compute: compression },
  { name: 'discharge:main_compressor', compute: discharge },
  { name: 'stage:first_discharge', compute: (c) => between(c, 'compression', 'first', 'p:flash_tank') },
  { name: 'stage:second_suction', compute: (c) => between(c, 'compression', 'second', 'p:flash_tank') },
  {
    name: 'polytropic:main_compressor',
    compute(c) {
      c.state('known:main_compressor');
      return c.figure('overall_polytropic');
    },
  },
  {
    // Over both stages, of the discharge as known or as assumed.
    name: 'overall_polytropic',
    compute(c) {
      const { efficiency } = c.flows('compression');
      return efficiency ?? fitted(c, c.state('discharge:main_compressor'))?.efficiency ?? c.missing('');
    },
  },
  {
    name: 'work:main_compressor',
    compute(c) {
      const end = c.state('discharge:main_compressor').h;
      return workOf(c, gasNow(c), end);
    },
  },
  {
    name: 'specific_power:main_compressor',
    compute: (c) => c.figure('work:main_compressor') / c.assumed('assumed.main_compressor_drive'),
  },
  {
    name: 'measured_specific_power',
    compute(c) {
      const work = workOf(c, gasNow(c), c.state('measured:main_compressor').h);
      return typeof work === 'number' ? work / c.assumed('assumed.main_compressor_drive') : work;
    },
  },
  {
    name: 'ghost:discharge:main_compressor',
    compute: (c) => whole(c, c.figure('overall_polytropic')),
  },
  { name: 'specific_power_with', compute: (c) => c.figure('specific_power:main_compressor') },
  {
    name: 'specific_power_without',
    compute: (c) => specificPower(c, MAIN, c.state('ghost:10').h - c.state('state:1').h),
  },
];

/** The other way to run while the vapour line is closed: beside `machineQuantities`. */
export const closedPortQuantities: readonly Quantity[] = [
  {
    name: 'ghost:compression',
    compute(c) {
      const eta = polytropic(c, c.state('state:1'), c.state('state:10'));
      if (typeof eta !== 'number') return eta;
      const vapour = c.state('ghost:7');
      const h3 = c.state('state:3').h;
      const y = (h3 - c.state('ghost:5').h) / (vapour.h - h3);
      const gas = { suction: c.state('state:1'), vapour, h3, y };
      return forward(c, gas, (from, to) => c.take(polytropicEnd(c.refrigerant, from, to, eta)));
    },
  },
  {
    name: 'ghost:discharge:main_compressor',
    compute: (c) => between(c, 'ghost:compression', 'end', 'p:condenser'),
  },
  {
    name: 'ghost:stage:first_discharge',
    compute: (c) => between(c, 'ghost:compression', 'first', 'p:ghost:flash_tank'),
  },
  {
    name: 'ghost:stage:second_suction',
    compute: (c) => between(c, 'ghost:compression', 'second', 'p:ghost:flash_tank'),
  },
  {
    name: 'specific_power_with',
    compute(c) {
      const { end, k } = c.flows('ghost:compression') as Partial<Compressed>;
      const vapour = c.state('ghost:7').h;
      const h3 = c.state('state:3').h;
      const y = (h3 - c.state('ghost:5').h) / (vapour - h3);
      if (end === undefined || k === undefined) return c.missing('');
      const work = (k + y) * end - y * vapour - k * c.state('state:1').h;
      return work / c.assumed('assumed.main_compressor_drive');
    },
  },
  { name: 'specific_power_without', compute: (c) => c.figure('specific_power:main_compressor') },
];

function gasNow(c: CycleContext): Gas {
  const y = c.figure('vapour_ratio');
  return { suction: c.state('state:1'), vapour: c.state('state:7'), h3: c.state('state:3').h, y };
}

/**
 * Suction flow per kg/s through the evaporator: with motor cooling the losses P(1 - eta)/(h1 - h3) of liquid boil and
 * join the suction, P itself being (k + y) h10 - y h7 - k h1 over eta.
 */
function suctionRatio(c: CycleContext, { suction, vapour, h3, y }: Gas, end: number): number | Missing {
  if (!c.parameters.motor_cooling) return 1;
  const efficiency = c.assumed('assumed.main_compressor_drive');
  const boiled = (1 - efficiency) / efficiency / (suction.h - h3);
  const net = 1 - boiled * (end - suction.h);
  if (net <= 0) return c.missing('motor cooling would take all of the suction flow');
  return (1 + boiled * y * (end - vapour.h)) / net;
}

/** (k + y) h10 - y h7 - k h1: work on the shaft per kilogram through the evaporator. */
function workOf(c: CycleContext, gas: Gas, end: number): number | Missing {
  const k = suctionRatio(c, gas, end);
  if (typeof k !== 'number') return k;
  const work = (k + gas.y) * end - gas.y * gas.vapour.h - k * gas.suction.h;
  return work <= 0 ? c.missing('enthalpy does not rise over the main compressor') : work;
}

/** The efficiency that leads to the discharge `end`, and the enthalpies between the stages; undefined with a reason. */
function fitted(c: CycleContext, end: State): ({ readonly efficiency: number } & Compressed) | undefined {
  const gas = gasNow(c);
  const k = suctionRatio(c, gas, end.h);
  const p = c.figure('p:flash_tank');
  if (typeof k !== 'number' || Number.isNaN(k + p + gas.suction.h + gas.vapour.h + end.h)) return undefined;
  const side = { p, share: gas.y / (k + gas.y), h: gas.vapour.h };
  const found = twoStages(c.refrigerant, gas.suction, end, side);
  if (!found.ok) {
    c.missing(found.fault.message);
    return undefined;
  }
  return { ...found.value, end: end.h, k };
}

function compression(c: CycleContext): Flows | Missing {
  if (c.has('known:main_compressor')) {
    const found = fitted(c, c.state('known:main_compressor'));
    return found === undefined ? c.missing('') : { ...found };
  }
  return forward(c, gasNow(c), (from, to, stage) => stageEnd(c, from, to, stage));
}

/** From efficiencies to the discharge; the share of vapour and the work that cools the motor are closed by rounds. */
function forward(c: CycleContext, gas: Gas, stage: Stage): Flows | Missing {
  const { suction, vapour, y } = gas;
  const out = c.figure('p:condenser');
  const first = stage(suction, vapour.p, 'first_stage');
  if ('missing' in first || Number.isNaN(first.h + y + out)) return c.missing('');
  let k = 1;
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const second = (k * first.h + y * vapour.h) / (k + y);
    const from = c.take(c.refrigerant.PH(vapour.p, second));
    const end = stage(from, out, 'second_stage');
    if ('missing' in end || Number.isNaN(end.h)) return c.missing('');
    const next = suctionRatio(c, gas, end.h);
    if (typeof next !== 'number' || Number.isNaN(next)) return c.missing('');
    const near = Math.abs(next - k) < NEAR_ENOUGH;
    k = next;
    if (near) return { first: first.h, second, end: end.h, k };
  }
  return c.missing('motor cooling and work do not come to terms');
}

function discharge(c: CycleContext): State | Missing {
  if (c.has('known:main_compressor')) return c.state('known:main_compressor');
  return between(c, 'compression', 'end', 'p:condenser');
}

function between(c: CycleContext, of: string, at: 'first' | 'second' | 'end', pressure: string): State | Missing {
  const h = c.flows(of)[at];
  const p = c.figure(pressure);
  return h === undefined || Number.isNaN(p) ? c.missing('') : c.take(c.refrigerant.PH(p, h));
}

/** From evaporator to condenser pressure without side stream. */
function whole(c: CycleContext, eta: number): State | Missing {
  const from = c.state('state:1');
  const p = c.figure('p:condenser');
  return Number.isNaN(from.h + p + eta) ? c.missing('') : c.take(polytropicEnd(c.refrigerant, from, p, eta));
}

/** From power and flows, where those do not themselves come from this power. */
function byPower(c: CycleContext): State | Missing {
  if (c.capacityMethod === null || c.capacityMethod === 'power')
    return c.missing('the main compressor work needs its discharge temperature, or power with a measured water flow');
  const power = c.figure('main_drive_power');
  const efficiency = c.assumed('assumed.main_compressor_drive');
  const { suction, vapour, h3, y } = gasNow(c);
  const evaporator = c.figure('evaporator.mass_flow');
  const cooling = c.parameters.motor_cooling ? (power * (1 - efficiency)) / (suction.h - h3) : 0;
  const [drawn, side] = [evaporator + cooling, evaporator * y];
  const h = (power * efficiency + drawn * suction.h + side * vapour.h) / (drawn + side);
  const p = c.figure('p_out:main_compressor');
  if (Number.isNaN(h + p)) return c.missing('');
  if (!(h > suction.h)) return c.missing('enthalpy does not rise over the main compressor');
  return c.take(c.refrigerant.PH(p, h));
}
