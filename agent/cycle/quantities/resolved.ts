/**
 * The machine without economizer with its condenser solved anew: it rejects more heat, so it condenses warmer, and that
 * costs it work again. Water flow, entering temperature and UA of the condenser stay: with C_w its heat capacity flow
 * T_c - T_in = Q_c/[C_w (1 - exp(-UA/C_w))]: the difference grows as the heat does, and neither UA nor flow is needed.
 * The evaporator carries the same capacity either way; its approach stays.
 */
import type { Missing } from '../../base/metric.ts';
import type { State } from '../../refrigerant/types.ts';
import type { MachineName } from '../arrangements/type.ts';
import type { Flows } from '../balances.ts';
import type { CycleContext, Quantity } from '../context.ts';
import { polytropicEnd } from '../polytropic.ts';
import { besideSaturation } from './levels.ts';
import { netOfDrive } from './losses.ts';
import { withoutEconomizer } from './machines.ts';

/** K */
const NEAR_ENOUGH = 1e-7;
const ROUNDS_MAX = 30;

export const resolvedQuantities: readonly Quantity[] = [{ name: 'resolved_without', compute: solvedAnew }];

/** `T`: condensing temperature without economizer, K; `saving`: part of the power then needed. */
function solvedAnew(c: CycleContext): Flows | Missing {
  if (!c.parameters.resolve_approaches) return c.missing('resolve_approaches is not set in the site file');
  if (!c.economizing()) return withoutEconomizer(c);
  const water = c.point('condenser_water.entering_temperature');
  const condensing = c.state('liquid:condenser');
  const above = condensing.T - water;
  if (Number.isNaN(above)) return c.missing('');
  if (above <= 0) return c.missing('condenser water enters no colder than the refrigerant condenses');
  const subcooling = condensing.T - c.state('state:3').T;
  // of one watt of capacity: electrical power, and heat to the condenser
  const withIt = c.figure('specific_power_with') / c.figure('refrigerating_effect');
  const rejected = 1 + intoCircuit(c, withIt);
  let T = condensing.T;
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const without = powerAt(c, T, subcooling);
    if (typeof without !== 'number') return without;
    const next = water + (above * (1 + without * circuitPart(c, 'main_compressor'))) / rejected;
    if (Number.isNaN(next)) return c.missing('');
    const near = Math.abs(next - T) < NEAR_ENOUGH;
    T = next;
    if (near) return { T, saving: 1 - withIt / without };
  }
  return c.missing('condensing temperature without economizer and its heat do not come to terms');
}

/** Part of a machine's electrical power that ends in the condenser: open drives lose their heat to the room. */
function circuitPart(c: CycleContext, name: MachineName): number {
  return c.parameters[name].motor === 'open' ? c.assumed(`assumed.${name}_drive`) : 1;
}

function intoCircuit(c: CycleContext, power: number): number {
  const own = c.circuit.machines.some(({ name }) => name === 'economizer_compressor');
  if (!own) return power * circuitPart(c, 'main_compressor');
  const economizer =
    (c.figure('standing_vapour_ratio') * c.figure('specific_power:economizer_compressor')) /
    c.figure('refrigerating_effect');
  return (
    (power - economizer) * circuitPart(c, 'main_compressor') + economizer * circuitPart(c, 'economizer_compressor')
  );
}

/** Electrical power over capacity of the machine without economizer, condensing at T with this subcooling. */
function powerAt(c: CycleContext, T: number, subcooling: number): number | Missing {
  const pressure = c.refrigerant.bubblePressure(T);
  if (!pressure.ok) return c.missing(pressure.fault.message);
  const suction = c.state('state:1');
  const liquid = besideSaturation(c, c.take(c.refrigerant.PQ(pressure.value, 0)), -subcooling);
  const end = compressed(c, suction, pressure.value);
  const effect = suction.h - liquid.h;
  const work = end.h - suction.h;
  const net = netOfDrive(c, work, effect);
  return net > 0 ? work / net / effect : c.missing('motor cooling would take all of the suction flow');
}

/** At today's efficiency: isentropic of one compression, polytropic of several stages. */
function compressed(c: CycleContext, from: State, p: number): State {
  if (c.knows('overall_polytropic'))
    return c.take(polytropicEnd(c.refrigerant, from, p, c.figure('overall_polytropic')));
  const out = c.state('discharge:main_compressor');
  const efficiency = (c.state('isentropic:main_compressor').h - from.h) / (out.h - from.h);
  const ideal = c.take(c.refrigerant.PS(p, from.s));
  return { ...ideal, h: from.h + (ideal.h - from.h) / efficiency };
}
