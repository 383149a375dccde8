/** States at the compressors' discharge, and what a kilogram of evaporator flow asks of each drive. */
import type { Missing } from '../../base/metric.ts';
import type { State } from '../../refrigerant/types.ts';
import { parallel } from '../arrangements/parallel.ts';
import { arrangementOf } from '../arrangements/table.ts';
import type { Machine, MachineName } from '../arrangements/type.ts';
import type { CycleContext, Quantity } from '../context.ts';
import { polytropicEfficiency, polytropicEnd } from '../polytropic.ts';
import { netOfDrive } from './losses.ts';

/** K of discharge superheat under which temperature no longer tells the enthalpy. */
const LEAST_SUPERHEAT = 0.3;

/**
 * Why a machine's own power does not tell its discharge while part of its flow goes round, or may; else null. To be
 * asked before the flow is, which would ask for the discharge again.
 */
export function bypassed(c: CycleContext): Missing | null {
  const share = c.figure('bypass_share');
  if (share === 0) return null;
  return c.missing('with hot-gas bypass open the discharge temperature must be measured');
}

/** Suction and discharge of each machine by name; the numbers are those of the trade's diagram: 1-2 and 7-8. */
const [MAIN, ECONOMIZER] = parallel.on.machines as readonly [Machine, Machine];

/** The economizer compressor, of whatever arrangement: where there is none, with the reason. */
export const economizerQuantities: readonly Quantity[] = ofMachine(ECONOMIZER);

/** Main compressor of one compression, and the economizer compressor that may stand beside it. */
export const machineQuantities: readonly Quantity[] = [
  ...ofMachine(MAIN),
  {
    name: 'measured_specific_power',
    compute: (c) => specificPower(c, MAIN, c.state('measured:main_compressor').h - c.state('state:1').h),
  },
  { name: 'standing_specific_power', compute: (c) => c.figure('measured_specific_power') },
  ...economizerQuantities,
];

/** The other way to run, and what saving compares: of a machine with an economizer compressor, or with none. */
export const besideQuantities: readonly Quantity[] = [
  { name: 'ghost:discharge:main_compressor', compute: (c) => c.state('state:2') },
  {
    name: 'ghost:discharge:economizer_compressor',
    compute(c) {
      return stageEnd(c, c.state('ghost:7'), c.figure('p:condenser'), 'economizer_compressor');
    },
  },
  {
    // Electrical power per kg/s through the evaporator with the economizer, J/kg: as it runs, or as it would.
    name: 'specific_power_with',
    compute(c) {
      const main = c.figure('specific_power:main_compressor');
      if (c.economizing())
        return main + c.figure('standing_vapour_ratio') * c.figure('specific_power:economizer_compressor');
      const h7 = c.state('ghost:7').h;
      const h3 = c.state('state:3').h;
      const y = (h3 - c.state('ghost:5').h) / (h7 - h3);
      return main + (y * (c.state('ghost:8').h - h7)) / c.assumed('assumed.economizer_compressor_drive');
    },
  },
  { name: 'specific_power_without', compute: (c) => c.figure('specific_power:main_compressor') },
];

/** Whether a compressor of its own lifts the tank's vapour now. */
export function secondMachine(c: CycleContext): boolean {
  return c.parameters.arrangement === 'parallel' && c.economizing();
}

/** Why nothing can be said of a machine, or null. */
export function absent(c: CycleContext, machine: MachineName): Missing | null {
  if (machine === 'main_compressor' || secondMachine(c)) return null;
  return arrangementOf(c.parameters).economizer === 'between_stages'
    ? c.missing('this arrangement has no economizer compressor')
    : withoutEconomizer(c);
}

/** Why nothing can be said of what flashes in a tank, or null. */
export function withoutTank(c: CycleContext): Missing | null {
  if (c.parameters.arrangement === 'subcooler') return c.missing('this arrangement has no flash tank');
  return c.economizing() ? null : withoutEconomizer(c);
}

export function withoutEconomizer(c: CycleContext): Missing {
  return c.missing(
    c.parameters.arrangement === 'simple' ? 'this arrangement has no economizer' : 'the economizer is off',
  );
}

function ofMachine(machine: Machine): Quantity[] {
  const { name } = machine;
  const suction = `state:${machine.suction}`;
  return [
    { name: `p_out:${name}`, compute: (c) => c.figure(`p:${machine.to}`) },
    {
      name: `isentropic:${name}`,
      compute(c) {
        const gone = absent(c, name);
        if (gone !== null) return gone;
        const { p, s } = c.state(suction);
        const out = c.figure(`p_out:${name}`);
        if (Number.isNaN(p + out)) return c.missing('');
        if (out <= p) return c.missing(`pressure does not rise over the ${name.replace('_', ' ')}`);
        return c.take(c.refrigerant.PS(out, s));
      },
    },
    { name: `measured:${name}`, compute: (c) => absent(c, name) ?? byTemperature(c, machine) },
    { name: `by_power:${name}`, compute: (c) => absent(c, name) ?? byPower(c, machine) },
    {
      // What the points say of the discharge, without any assumed efficiency.
      name: `known:${name}`,
      compute(c) {
        if (c.has(`measured:${name}`)) return c.state(`measured:${name}`);
        if (c.has(`by_power:${name}`)) return c.state(`by_power:${name}`);
        return c.state(`measured:${name}`);
      },
    },
    {
      name: `discharge:${name}`,
      compute(c) {
        const gone = absent(c, name);
        if (gone !== null) return gone;
        if (c.has(`known:${name}`)) return c.state(`known:${name}`);
        return stageEnd(c, c.state(suction), c.figure(`p_out:${name}`), name);
      },
    },
    // Only where a design gives them; else the assumed isentropic efficiency holds.
    { name: `polytropic_given:${name}`, compute: (c) => c.missing('none is given') },
    {
      name: `efficiency_given:${name}`,
      compute: (c) => c.assumed(`assumed.${name}_efficiency`),
    },
    {
      name: `polytropic:${name}`,
      compute(c) {
        const gone = absent(c, name);
        if (gone !== null) return gone;
        return polytropic(c, c.state(suction), c.state(`known:${name}`));
      },
    },
    {
      name: `work:${name}`,
      compute(c) {
        const gone = absent(c, name);
        if (gone !== null) return gone;
        return rise(c, c.state(`discharge:${name}`), c.state(suction), name);
      },
    },
    { name: `specific_power:${name}`, compute: (c) => specificPower(c, machine, c.figure(`work:${name}`)) },
  ];
}

/** End of a compression to pressure `out` at the efficiency given or assumed for `stage`. */
export function stageEnd(c: CycleContext, from: State, out: number, stage: string): State | Missing {
  if (Number.isNaN(from.h + out)) return c.missing('');
  if (out <= from.p) return c.missing(`pressure does not rise over the ${stage.replace('_', ' ')}`);
  if (c.has(`polytropic_given:${stage}`))
    return c.take(polytropicEnd(c.refrigerant, from, out, c.figure(`polytropic_given:${stage}`)));
  return raised(c, { p: out, h: from.h, s: from.s }, c.figure(`efficiency_given:${stage}`));
}

export function polytropic(c: CycleContext, from: State, to: State): number | Missing {
  if (Number.isNaN(from.h + to.h)) return c.missing('');
  const found = polytropicEfficiency(c.refrigerant, from, to);
  return found.ok ? found.value : c.missing(found.fault.message);
}

function rise(c: CycleContext, out: State, into: State, name: string): number | Missing {
  const w = out.h - into.h;
  return w <= 0 ? c.missing(`enthalpy does not rise over the ${name.replace('_', ' ')}`) : w;
}

function raised(c: CycleContext, from: { p: number; h: number; s: number }, efficiency: number): State {
  const end = c.take(c.refrigerant.PS(from.p, from.s));
  return c.take(c.refrigerant.PH(from.p, from.h + (end.h - from.h) / efficiency));
}

/** From the measured discharge temperature, where superheat is left to tell it. */
export function byTemperature(c: CycleContext, machine: Machine): State | Missing {
  const T = c.point(`${machine.name}.discharge_temperature`);
  const p = c.figure(`p_out:${machine.name}`);
  if (Number.isNaN(T + p)) return c.missing('');
  const found = c.refrigerant.dewTemperature(p);
  if (!found.ok) return c.missing(found.fault.message);
  if (T - found.value < LEAST_SUPERHEAT)
    return c.missing(`${machine.name}.discharge_temperature shows no superheat, so it does not tell the work`);
  const state = c.take(c.refrigerant.TP(T, p));
  rise(c, state, c.state(`state:${machine.suction}`), machine.name);
  return state;
}

/** From the machine's own power and its flow, where the flow does not itself come from this power. */
function byPower(c: CycleContext, machine: Machine): State | Missing {
  const main = machine.name === 'main_compressor';
  if (!main && !c.has(`drive_power:${machine.name}`)) return c.missing(`${machine.name}.power is not measured`);
  if (main && (c.capacityMethod === null || c.capacityMethod === 'power'))
    return c.missing('the main compressor work needs its discharge temperature, or power with a measured water flow');
  const bypassing = main ? bypassed(c) : null;
  if (bypassing !== null) return bypassing;
  const power = c.figure(main ? 'main_drive_power' : `drive_power:${machine.name}`);
  const efficiency = c.assumed(`assumed.${machine.name}_drive`);
  const into = c.state(`state:${machine.suction}`);
  let flow = main ? c.figure('evaporator.mass_flow') : c.figure('flash_tank.vapour_mass_flow');
  if (main && c.parameters.motor_cooling) flow += (power * (1 - efficiency)) / (into.h - c.state('state:3').h);
  const p = c.figure(`p_out:${machine.name}`);
  const h = into.h + (power * efficiency) / flow;
  if (Number.isNaN(h + p)) return c.missing('');
  if (!(h > into.h)) return c.missing(`enthalpy does not rise over the ${machine.name.replace('_', ' ')}`);
  return c.take(c.refrigerant.PH(p, h));
}

/**
 * Electrical power per kg/s of evaporator flow (main) or of tank vapour (economizer), J/kg. Cooling the motor sends P(1
 * - eta)/(h1 - h3) of liquid back to the main suction, which the main compressor lifts too; so it does bypassed gas.
 */
export function specificPower(c: CycleContext, machine: Machine, work: number): number | Missing {
  if (machine.name !== 'main_compressor') return work / c.assumed(`assumed.${machine.name}_drive`);
  const net = netOfDrive(c, work, c.state('state:1').h - c.state('state:3').h);
  return net <= 0 ? c.missing('motor cooling would take all of the suction flow') : work / net;
}
