/**
 * What the vessels store while their levels move: density x area x rise of the level. The vapour that the liquid pushes
 * out or lets in (1 to 4 % of it with medium-pressure refrigerants) is left out: it lies within what is not known of
 * the area. Not claimed, and zero in the balances, where the area is not configured or the level does not tell its
 * rate.
 */
import type { Missing } from '../../base/metric.ts';
import { EVAPORATOR_LIQUID, storedIn } from '../arrangements/storage.ts';
import type { Circuit, Pool, Vessel } from '../arrangements/type.ts';
import type { Flows } from '../balances.ts';
import type { CycleContext, Quantity } from '../context.ts';

/**
 * Part of the flow at rated capacity beyond which a level moves too fast for this: common practice, no source. Sensors
 * lag, and foam and waves are no storage.
 */
const FAST = 0.1;
/** J/kg: what a kilogram of refrigerant carries, near enough for that. */
const CARRIED = 1.5e5;

export function storageQuantities(circuit: Circuit): readonly Quantity[] {
  const pools = circuit.stored ?? [];
  if (pools.length === 0) return [];
  return [
    ...pools.map((pool): Quantity => ({ name: storedIn(pool.vessel), compute: (c) => inBalances(c, pool.vessel) })),
    {
      // The charge stays: the evaporator gives what the others take.
      name: storedIn('evaporator'),
      compute: (c) => -pools.reduce((sum, { vessel }) => sum + c.figure(storedIn(vessel)), 0),
    },
    {
      // W: what the evaporator's liquid takes of its heat, being stored there instead of boiling.
      name: 'stored_heat',
      compute(c) {
        const kept = c.figure(storedIn('evaporator'));
        return kept * (c.state(EVAPORATOR_LIQUID).h - c.state('state:6').h);
      },
    },
    {
      // W: what all vessels together store; liquid that moves from cold to warm counts above zero.
      name: 'stored_energy',
      compute(c) {
        const cold = c.state(EVAPORATOR_LIQUID).h;
        return pools.reduce((sum, pool) => sum + c.figure(storedIn(pool.vessel)) * (enthalpy(c, pool) - cold), 0);
      },
    },
  ];
}

function enthalpy(c: CycleContext, { node }: Pool): number {
  return c.state(`state:${node}`).h;
}

/** kg/s; missing with the reason where it cannot be told. */
export function storedMass(c: CycleContext, vessel: Vessel): number | Missing {
  const of = c.parameters.vessels[vessel];
  if (of === undefined) return c.missing(`vessels.${vessel} is not configured`);
  const rate = c.point(`${vessel}.level_rate`);
  const wide = of.liquid_area * c.assumed(`assumed.${vessel}_area`);
  return density(c, vessel) * wide * of.level_range * rate;
}

/**
 * Of saturated liquid at the liquid's temperature: subcooled liquid is a tenth of a percent denser, and where noise
 * puts the sensor above saturation the vapour in it does not stand in the vessel.
 */
function density(c: CycleContext, vessel: Vessel): number {
  const measured = 'condenser.liquid_temperature';
  if (vessel === 'condenser' && c.hasPoint(measured)) return c.take(c.refrigerant.TQ(c.point(measured), 0)).rho;
  return c.state(`liquid:${vessel}`).rho;
}

function inBalances(c: CycleContext, vessel: Vessel): number | Missing {
  if (!c.hasPoint(`${vessel}.level_rate`)) return 0;
  const stored = storedMass(c, vessel);
  if (typeof stored === 'number' && Math.abs(stored) > (FAST * c.parameters.rated_capacity) / CARRIED)
    c.doubt(`${vessel}.level moves too fast to tell what is stored`);
  return stored;
}

/** Streams per kg/s through the evaporator: what is cooled or bypassed does not pass the economizer. */
export const RATIOS = { evaporator: 1, motor_cooling: 0, bypass: 0 } as const;

/** Streams per kg/s that boils in the evaporator; `standing`: as if every level stood. */
export function shares(c: CycleContext, standing: boolean): Flows {
  const stored = c.circuit.stored ?? [];
  if (stored.length === 0) return RATIOS;
  const given: Record<string, number> = { ...RATIOS };
  for (const { vessel } of stored) given[storedIn(vessel)] = standing ? 0 : share(c, vessel);
  return given;
}

function share(c: CycleContext, vessel: Vessel): number {
  const stored = c.figure(storedIn(vessel));
  if (stored === 0 || Number.isNaN(stored)) return stored;
  if (c.has('flow_about')) return stored / c.figure('flow_about');
  c.doubt('levels move, and how much flows beside that is not known');
  return 0;
}

/** Flows that the vessels take, kg/s, by stream. */
export function taken(c: CycleContext): Flows {
  const pools = c.circuit.stored ?? [];
  return Object.fromEntries(pools.map(({ vessel }) => [storedIn(vessel), c.figure(storedIn(vessel))]));
}

/** A quantity of this file; 0 where nothing is stored. */
export function ofStorage(c: CycleContext, name: 'stored_heat' | 'stored_energy'): number {
  return (c.circuit.stored ?? []).length === 0 ? 0 : c.figure(name);
}
