/**
 * A circuit whose vessels take up liquid while their levels rise and give it back while they fall. The charge of the
 * machine stays, so the evaporator, whose level nothing controls, gives what the others take: what enters it (`feed`)
 * is then not what boils in it (`evaporator`), and what condenses is not what drains (`drained`).
 */
import type { Balance, Circuit, Crossing, Junction, Pool, Vessel } from './type.ts';

/** Liquid of the evaporator: saturated at its pressure, no numbered node. */
export const EVAPORATOR_LIQUID = 'liquid:evaporator';

/** Stream into a vessel's own liquid, kg/s: below zero while its level falls. */
export function storedIn(vessel: Vessel | 'evaporator'): string {
  return `stored:${vessel}`;
}

const TANKS: Readonly<Record<string, Vessel>> = { 'flash tank': 'flash_tank', 'second flash tank': 'flash_tank_2' };

/**
 * `vessels`: those of which it is known what they store; the others are taken to stand. As it was where that is none of
 * its own.
 */
export function storing(circuit: Circuit, vessels: readonly Vessel[]): Circuit {
  const stored = circuit.liquid.pools.filter(({ vessel }) => vessels.includes(vessel));
  if (stored.length === 0) return circuit;
  const pool = (name: string): Pool | undefined => stored.find(({ vessel }) => vessel === name);
  const condensate = pool('condenser');
  return {
    ...circuit,
    nodes: circuit.nodes.map((node) => {
      if (node.number === '3') return { ...node, stream: 'drained' };
      return node.number === '1' ? node : { ...node, stream: fed(node.stream) };
    }),
    junctions: [
      ...circuit.junctions.map((junction) => (junction.name === 'suction' ? junction : taking(junction, pool))),
      { name: 'evaporator', enters: ['feed'], leaves: ['evaporator', storedIn('evaporator')] },
      {
        name: 'condensate',
        enters: ['condenser'],
        leaves: ['drained', ...(condensate === undefined ? [] : [storedIn('condenser')])],
      },
      { name: 'liquid line', enters: ['drained'], leaves: [...circuit.liquid.leaving.map(fed), 'motor_cooling'] },
    ],
    balances: circuit.balances.map((balance) => heated(balance, pool)),
    stored,
  };
}

const fed = (stream: string): string => (stream === 'evaporator' ? 'feed' : stream);

type PoolOf = (name: string) => Pool | undefined;

function taking({ name, enters, leaves }: Junction, pool: PoolOf): Junction {
  const own = pool(TANKS[name] ?? '');
  return {
    name,
    enters: enters.map(fed),
    leaves: [...leaves.map(fed), ...(own === undefined ? [] : [storedIn(own.vessel)])],
  };
}

/** Liquid is feed wherever it is not yet vapour at 1. What the condenser keeps it has condensed. */
function heated(balance: Balance, pool: PoolOf): Balance {
  const crossing = ({ stream, node }: Crossing): Crossing => ({ stream: node === '1' ? stream : fed(stream), node });
  const own = pool(TANKS[balance.name] ?? '');
  const kept: Crossing[] =
    balance.name === 'evaporator'
      ? [{ stream: storedIn('evaporator'), node: EVAPORATOR_LIQUID }]
      : own === undefined
        ? []
        : [{ stream: storedIn(own.vessel), node: own.node }];
  return {
    ...balance,
    enters: balance.enters.map(crossing),
    leaves: [...balance.leaves.map(crossing), ...kept],
  };
}
