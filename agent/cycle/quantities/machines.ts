/** States at the compressors' discharge, and what a kilogram of evaporator flow asks of each drive. */
import type { Missing } from '../../base/metric.ts';
import type { State } from '../../refrigerant/types.ts';
import { parallel } from '../arrangements/parallel.ts';
import type { Machine } from '../arrangements/type.ts';
import type { CycleContext, Quantity } from '../context.ts';

/** K of discharge superheat under which temperature no longer tells the enthalpy. */
const LEAST_SUPERHEAT = 0.3;

/** Suction and discharge of each machine by name; the numbers are those of domain diagrams: 1-2 and 7-8. */
const MACHINES: readonly Machine[] = parallel.on.machines;

export const machineQuantities: readonly Quantity[] = [
  ...MACHINES.flatMap(ofMachine),
  {
    name: 'ghost:discharge',
    compute(c) {
      const { h, s } = c.state('ghost:7');
      const p = c.figure('p:condenser');
      if (Number.isNaN(h + p)) return c.missing('');
      return raised(c, { p, h, s }, c.assumed('assumed.economizer_compressor_efficiency'));
    },
  },
];

/** Why nothing can be said of a machine, or null. */
export function absent(c: CycleContext, machine: Machine['name']): Missing | null {
  if (machine === 'main_compressor' || c.economizing()) return null;
  return withoutEconomizer(c);
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
        const { h } = c.state(suction);
        const end = c.state(`isentropic:${name}`);
        if (Number.isNaN(h + end.h)) return c.missing('');
        return c.take(c.refrigerant.PH(end.p, h + (end.h - h) / c.assumed(`assumed.${name}_efficiency`)));
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

function rise(c: CycleContext, out: State, into: State, name: string): number | Missing {
  const w = out.h - into.h;
  return w <= 0 ? c.missing(`enthalpy does not rise over the ${name.replace('_', ' ')}`) : w;
}

function raised(c: CycleContext, from: { p: number; h: number; s: number }, efficiency: number): State {
  const end = c.take(c.refrigerant.PS(from.p, from.s));
  return c.take(c.refrigerant.PH(from.p, from.h + (end.h - from.h) / efficiency));
}

function byTemperature(c: CycleContext, machine: Machine): State | Missing {
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
 * - eta)/(h1 - h3) of liquid back to the main suction, which the main compressor lifts too.
 */
export function specificPower(c: CycleContext, machine: Machine, work: number): number | Missing {
  const efficiency = c.assumed(`assumed.${machine.name}_drive`);
  if (machine.name !== 'main_compressor' || !c.parameters.motor_cooling) return work / efficiency;
  const carried = c.state('state:1').h - c.state('state:3').h;
  const net = efficiency - ((1 - efficiency) * work) / carried;
  return net <= 0 ? c.missing('motor cooling would take all of the suction flow') : work / net;
}
