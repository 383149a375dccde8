/**
 * Several stages with vapour of the economizer joining between them. Nothing is measured there: the states between the
 * stages follow from one polytropic efficiency that leads over all stages to the discharge, or from efficiencies given.
 * Works are per kilogram through the evaporator: the stages carry different flows.
 */
import type { Missing } from '../../base/metric.ts';
import type { State } from '../../refrigerant/types.ts';
import { STAGES } from '../arrangements/stages.ts';
import type { Circuit, StageEnd } from '../arrangements/type.ts';
import { type Flows, solveFlows } from '../balances.ts';
import type { CycleContext, Quantity } from '../context.ts';
import { polytropicEnd, throughStages } from '../polytropic.ts';
import { type Gas, gasNow, gasOf, gasStanding, portsOf, suctionRatio, total, workOf, workWith } from './gas.ts';
import { bypassed, byTemperature, economizerQuantities, polytropic, specificPower, stageEnd } from './machines.ts';
import { RATIOS } from './storage.ts';

/** Change of the flow ratio under which motor cooling and work agree. */
const NEAR_ENOUGH = 1e-12;
const ROUNDS_MAX = 30;

type StageName = 'first_stage' | 'second_stage' | 'third_stage';
const NAMES: readonly StageName[] = ['first_stage', 'second_stage', 'third_stage'];

type Stage = (from: State, to: number, name: StageName) => State | Missing;

/** The compressor while vapour joins between its stages. */
export function stageQuantities(circuit: Circuit): readonly Quantity[] {
  return [...economizerQuantities, ...wholeCompressor, ...givenStages, ...endsOf(circuit, 'state')];
}

const wholeCompressor: readonly Quantity[] = [
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
  { name: 'measured:main_compressor', compute: (c) => byTemperature(c, STAGES) },
  { name: 'by_power:main_compressor', compute: byPower },
  {
    name: 'known:main_compressor',
    compute(c) {
      if (c.has('measured:main_compressor')) return c.state('measured:main_compressor');
      if (c.has('by_power:main_compressor')) return c.state('by_power:main_compressor');
      return c.state('measured:main_compressor');
    },
  },
  { name: 'compression', compute: compression },
  { name: 'discharge:main_compressor', compute: discharge },
  {
    name: 'polytropic:main_compressor',
    compute(c) {
      c.state('known:main_compressor');
      return c.figure('overall_polytropic');
    },
  },
  {
    // Over all stages, of the discharge as known or as assumed.
    name: 'overall_polytropic',
    compute(c) {
      const { efficiency } = c.flows('compression');
      return efficiency ?? fitted(c, c.state('discharge:main_compressor'))?.['efficiency'] ?? c.missing('');
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
  { name: 'measured_specific_power', compute: (c) => powerFor(c, gasNow(c), 'measured:main_compressor') },
  { name: 'standing_specific_power', compute: (c) => powerFor(c, gasStanding(c), 'measured:main_compressor') },
  {
    name: 'ghost:discharge:main_compressor',
    compute: (c) => whole(c, c.figure('overall_polytropic')),
  },
  { name: 'specific_power_with', compute: (c) => powerFor(c, gasStanding(c), 'discharge:main_compressor') },
  {
    name: 'specific_power_without',
    compute: (c) => specificPower(c, STAGES, c.state('ghost:10').h - c.state('state:1').h),
  },
];

const givenStages: readonly Quantity[] = NAMES.flatMap((stage): Quantity[] => [
  { name: `polytropic_given:${stage}`, compute: (c) => c.missing('none is given') },
  { name: `efficiency_given:${stage}`, compute: (c) => c.assumed('assumed.main_compressor_efficiency') },
]);

/** The other way to run while the vapour lines are closed: beside `machineQuantities`. */
export function closedPortQuantities(other: Circuit): readonly Quantity[] {
  return [
    {
      // Streams per kg/s through the evaporator if the lines were open.
      name: 'ghost_ratios',
      compute: (c) => solveFlows(other, RATIOS, (node) => c.state(`ghost:${node}`).h),
    },
    {
      name: 'ghost:compression',
      compute(c) {
        const eta = polytropic(c, c.state('state:1'), c.state('state:10'));
        if (typeof eta !== 'number') return eta;
        return forward(c, gasOf(c, other, 'ghost'), (from, to) => c.take(polytropicEnd(c.refrigerant, from, to, eta)));
      },
    },
    {
      name: 'ghost:discharge:main_compressor',
      compute: (c) => between(c, 'ghost:compression', 'end', 'p:condenser'),
    },
    ...endsOf(other, 'ghost'),
    {
      name: 'specific_power_with',
      compute(c) {
        const { end, k } = c.flows('ghost:compression');
        if (end === undefined || k === undefined) return c.missing('');
        return workWith(gasOf(c, other, 'ghost'), k, end) / c.assumed('assumed.main_compressor_drive');
      },
    },
    { name: 'specific_power_without', compute: (c) => c.figure('specific_power:main_compressor') },
  ];
}

/** Electrical power per kg/s through the evaporator for lifting `gas` to the discharge of that name, J/kg. */
function powerFor(c: CycleContext, gas: Gas, discharge: string): number | Missing {
  const work = workOf(c, gas, c.state(discharge).h);
  return typeof work === 'number' ? work / c.assumed('assumed.main_compressor_drive') : work;
}

/** States between the stages: `out_1` leaves the first, `in_2` enters the second after mixing. */
function endsOf(circuit: Circuit, way: 'state' | 'ghost'): Quantity[] {
  const prefix = way === 'state' ? '' : 'ghost:';
  return portsOf(circuit).flatMap(({ level }, at) =>
    ([`out_${at + 1}`, `in_${at + 2}`] as StageEnd[]).map((end) => ({
      name: `${prefix}stage:${end}`,
      compute: (c: CycleContext) => between(c, `${prefix}compression`, end, `p:${prefix}${level}`),
    })),
  );
}

/** The efficiency that leads to the discharge `end`, and the enthalpies between the stages; undefined with a reason. */
function fitted(c: CycleContext, end: State): Flows | undefined {
  const gas = gasNow(c);
  const k = suctionRatio(c, gas, end.h);
  if (typeof k !== 'number') return undefined;
  const delivered = k + total(gas.sides, ({ y }) => y);
  const sides = gas.sides.map(({ vapour, y }) => ({ p: vapour.p, share: y / delivered, h: vapour.h }));
  if (Number.isNaN(delivered + gas.suction.h + end.h + total(gas.sides, ({ vapour }) => vapour.h))) return undefined;
  const found = throughStages(c.refrigerant, gas.suction, end, sides);
  if (!found.ok) {
    c.missing(found.fault.message);
    return undefined;
  }
  const { efficiency, leaving, entering } = found.value;
  const flows: Record<string, number> = { efficiency, end: end.h, k };
  sides.forEach((_, at) => {
    flows[`out_${at + 1}`] = leaving[at] as number;
    flows[`in_${at + 2}`] = entering[at + 1] as number;
  });
  return flows;
}

function compression(c: CycleContext): Flows | Missing {
  if (c.has('known:main_compressor')) return fitted(c, c.state('known:main_compressor')) ?? c.missing('');
  return forward(c, gasNow(c), (from, to, stage) => stageEnd(c, from, to, stage));
}

/** From efficiencies to the discharge; the share of vapour and the work that cools the motor are closed by rounds. */
function forward(c: CycleContext, gas: Gas, stage: Stage): Flows | Missing {
  const first = gas.sides[0] === undefined ? c.missing('') : stage(gas.suction, gas.sides[0].vapour.p, 'first_stage');
  if ('missing' in first || Number.isNaN(first.h)) return c.missing('');
  let k = 1;
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const flows = through(c, gas, { first, k, stage });
    if (flows === null) return c.missing('');
    const next = suctionRatio(c, gas, flows['end'] as number);
    if (typeof next !== 'number' || Number.isNaN(next)) return c.missing('');
    const near = Math.abs(next - k) < NEAR_ENOUGH;
    k = next;
    if (near) return { ...flows, k };
  }
  return c.missing('motor cooling and work do not come to terms');
}

/** Mixing and compressing on from the first discharge to the last, with `k` kg/s drawn in. */
function through(
  c: CycleContext,
  { sides }: Gas,
  from: { readonly first: State; readonly k: number; readonly stage: Stage },
): Record<string, number> | null {
  const flows: Record<string, number> = { out_1: from.first.h };
  let flow = from.k;
  let h = from.first.h;
  for (const [at, { vapour, y }] of sides.entries()) {
    h = (flow * h + y * vapour.h) / (flow + y);
    flow += y;
    flows[`in_${at + 2}`] = h;
    const to = sides[at + 1]?.vapour.p ?? c.figure('p:condenser');
    if (Number.isNaN(h + to)) return null;
    const end = from.stage(c.take(c.refrigerant.PH(vapour.p, h)), to, NAMES[at + 1] as StageName);
    if ('missing' in end || Number.isNaN(end.h)) return null;
    h = end.h;
    flows[at + 1 < sides.length ? `out_${at + 2}` : 'end'] = h;
  }
  return flows;
}

function discharge(c: CycleContext): State | Missing {
  if (c.has('known:main_compressor')) return c.state('known:main_compressor');
  return between(c, 'compression', 'end', 'p:condenser');
}

function between(c: CycleContext, of: string, at: StageEnd | 'end', pressure: string): State | Missing {
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
  const bypassing = bypassed(c);
  if (bypassing !== null) return bypassing;
  const power = c.figure('main_drive_power');
  const efficiency = c.assumed('assumed.main_compressor_drive');
  const { suction, sides, h3 } = gasNow(c);
  const evaporator = c.figure('evaporator.mass_flow');
  const cooling = c.parameters.motor_cooling ? (power * (1 - efficiency)) / (suction.h - h3) : 0;
  const drawn = evaporator + cooling;
  const brought = drawn * suction.h + evaporator * total(sides, ({ vapour, y }) => y * vapour.h);
  const h = (power * efficiency + brought) / (drawn + evaporator * total(sides, ({ y }) => y));
  const p = c.figure('p_out:main_compressor');
  if (Number.isNaN(h + p)) return c.missing('');
  if (!(h > suction.h)) return c.missing('enthalpy does not rise over the main compressor');
  return c.take(c.refrigerant.PH(p, h));
}
