/** What a compressor of several stages compresses, and what that takes per kilogram through the evaporator. */
import type { Missing } from '../../base/metric.ts';
import type { State } from '../../refrigerant/types.ts';
import type { Circuit, Port } from '../arrangements/type.ts';
import type { CycleContext } from '../context.ts';
import { NO_FLASH } from './capacity.ts';

/** Vapour joining between two stages, `y` kg/s of it per kg/s through the evaporator. */
export interface Side {
  readonly vapour: State;
  readonly y: number;
}

/** What is compressed: suction gas, what joins from low pressure to high, and what leaves the condenser. */
export interface Gas {
  readonly suction: State;
  readonly sides: readonly Side[];
  readonly h3: number;
}

export function portsOf(circuit: Circuit): readonly Port[] {
  return circuit.machines.flatMap((machine) => machine.ports ?? []);
}

const RATIOS_OF = { now: 'flow_ratios', standing: 'standing_ratios', ghost: 'ghost_ratios' } as const;

/** `standing`: as it is now, had every level stood. */
export function gasOf(c: CycleContext, circuit: Circuit, when: keyof typeof RATIOS_OF): Gas {
  const ratios = c.flows(RATIOS_OF[when]);
  const way = when === 'ghost' ? 'ghost' : 'state';
  const sides = portsOf(circuit).map(({ vapour, stream }) => ({
    vapour: c.state(`${way}:${vapour}`),
    y: ratios[stream] ?? Number.NaN,
  }));
  if (sides.some(({ y }) => y <= 0)) c.missing(NO_FLASH);
  return { suction: c.state('state:1'), sides, h3: c.state('state:3').h };
}

export function gasNow(c: CycleContext): Gas {
  return gasOf(c, c.circuit, 'now');
}

export function gasStanding(c: CycleContext): Gas {
  return gasOf(c, c.circuit, 'standing');
}

export const total = (sides: readonly Side[], of: (side: Side) => number): number =>
  sides.reduce((sum, side) => sum + of(side), 0);

/**
 * Suction flow per kg/s through the evaporator: bypassed gas is drawn in again; with motor cooling P(1 - eta)/(h1 - h3)
 * of liquid boils on the losses and joins the suction, P being the enthalpy delivered less those brought along, over
 * eta.
 */
export function suctionRatio(c: CycleContext, { suction, sides, h3 }: Gas, end: number): number | Missing {
  const through = 1 - c.figure('bypass_share');
  if (!c.parameters.motor_cooling) return 1 / through;
  const efficiency = c.assumed('assumed.main_compressor_drive');
  const boiled = (1 - efficiency) / efficiency / (suction.h - h3);
  const net = through - boiled * (end - suction.h);
  if (net <= 0) return c.missing('motor cooling would take all of the suction flow');
  return (1 + boiled * total(sides, ({ vapour, y }) => y * (end - vapour.h))) / net;
}

/** (k + sum y) h10 - sum y h_vapour - k h1: work on the shaft per kilogram through the evaporator. */
export function workWith({ suction, sides }: Gas, k: number, end: number): number {
  return k * (end - suction.h) + total(sides, ({ vapour, y }) => y * (end - vapour.h));
}

export function workOf(c: CycleContext, gas: Gas, end: number): number | Missing {
  const k = suctionRatio(c, gas, end);
  if (typeof k !== 'number') return k;
  const work = workWith(gas, k, end);
  return work <= 0 ? c.missing('enthalpy does not rise over the main compressor') : work;
}
