/** Pressures, saturated states, and the states of the numbered nodes. */
import type { Missing } from '../../base/metric.ts';
import type { State } from '../../refrigerant/types.ts';
import type { Circuit, Level, Node } from '../arrangements/type.ts';
import type { CycleContext, Quantity } from '../context.ts';
import { boiledOff, cooledLiquid, intermediatePressures } from './intermediate.ts';

const LEVELS: readonly Level[] = ['evaporator', 'flash_tank', 'flash_tank_2', 'economizer', 'condenser'];

/** K: a suction sensor this far below saturation, or a liquid sensor this far above, is a fault and not noise. */
const BEYOND_NOISE = 3;
/** K: so far the line of the single phase is continued for the balances to weigh and name such a sensor. */
const BEYOND_SENSE = 10;

const pressures: readonly Quantity[] = [
  { name: 'p:evaporator', compute: (c) => c.point('evaporator.pressure') },
  { name: 'p:condenser', compute: (c) => c.point('condenser.pressure') },
  ...intermediatePressures,
  {
    // How far the tank's two sensors are from each other, relative pressure: 0 where they agree.
    name: 'tank_contradiction',
    compute(c) {
      const p = c.point('flash_tank.pressure');
      const T = c.point('flash_tank.temperature');
      if (Number.isNaN(p + T)) return c.missing('');
      const found = c.refrigerant.bubblePressure(T);
      return found.ok ? Math.log(found.value / p) : c.missing(found.fault.message);
    },
  },
];

const saturated: readonly Quantity[] = LEVELS.flatMap((level) => [
  { name: `liquid:${level}`, compute: (c) => saturation(c, `p:${level}`, 0) },
  { name: `vapour:${level}`, compute: (c) => saturation(c, `p:${level}`, 1) },
]);

function saturation(c: CycleContext, pressure: string, q: 0 | 1): State | Missing {
  const p = c.figure(pressure);
  return Number.isNaN(p) ? c.missing('') : c.take(c.refrigerant.PQ(p, q));
}

/** Entries that no circuit changes. */
export const levelQuantities: readonly Quantity[] = [...pressures, ...saturated];

/** `state:<number>` for each node of the circuit, `ghost:<number>` for each of the other one. */
export function nodeQuantities(circuit: Circuit, other: Circuit | null): Quantity[] {
  const here = circuit.nodes.map((node) => ({
    name: `state:${node.number}`,
    compute: (c: CycleContext) => nodeState(c, node, 'state'),
  }));
  const there = (other?.nodes ?? []).map((node) => ({
    name: `ghost:${node.number}`,
    compute: (c: CycleContext) => nodeState(c, node, 'ghost'),
  }));
  return [...here, ...there];
}

const SHARED: ReadonlySet<string> = new Set(['suction', 'condensed_liquid', 'discharge']);

function nodeState(c: CycleContext, node: Node, way: 'state' | 'ghost'): State | Missing {
  const { rule } = node;
  // which of the two circuits it is: whatever tells that is behind every node they do not share
  if (!SHARED.has(rule.kind)) c.economizing();
  switch (rule.kind) {
    case 'suction':
      return way === 'ghost' ? c.state(`state:${node.number}`) : suction(c);
    case 'condensed_liquid':
      return way === 'ghost' ? c.state(`state:${node.number}`) : condensedLiquid(c);
    case 'discharge':
      if (way === 'state') return c.state(`discharge:${rule.machine}`);
      return c.state(`ghost:discharge:${rule.machine}`);
    case 'between_stages':
      return c.state(`${way === 'state' ? '' : 'ghost:'}stage:${rule.at}`);
    case 'expansion': {
      const from = c.state(`${way}:${rule.from}`);
      const p = c.figure(pressureOf(rule.level, way));
      if (Number.isNaN(from.h + p)) return c.missing('');
      if (p >= from.p)
        return c.missing(`pressure does not fall on the way to point ${node.number}: check the pressures`);
      return c.take(c.refrigerant.PH(p, from.h));
    }
    case 'cooled_liquid':
      return cooledLiquid(c, pressureOf(rule.level, way), way);
    case 'boiled_off':
      return boiledOff(c, pressureOf(rule.level, way), way);
    case 'saturated_liquid':
      return way === 'state' ? c.state(`liquid:${rule.level}`) : saturation(c, pressureOf(rule.level, way), 0);
    case 'saturated_vapour':
      return way === 'state' ? c.state(`vapour:${rule.level}`) : saturation(c, pressureOf(rule.level, way), 1);
  }
}

function pressureOf(level: Level, way: 'state' | 'ghost'): string {
  return way === 'ghost' && level !== 'evaporator' && level !== 'condenser' ? `p:ghost:${level}` : `p:${level}`;
}

/**
 * Vapour at the measured suction temperature; without that sensor at the assumed superheat. Below saturation the vapour
 * line is continued with its heat capacity: cutting it off within noise would bias the mean, and cutting it off beyond
 * would hide from the balances by how much the sensor is off.
 */
function suction(c: CycleContext): State | Missing {
  const dew = c.state('vapour:evaporator');
  const measured = c.hasPoint('main_compressor.suction_temperature');
  const superheat = measured
    ? c.point('main_compressor.suction_temperature') - dew.T
    : c.assumed('assumed.suction_superheat');
  if (Number.isNaN(dew.T + superheat)) return c.missing('');
  if (superheat < -BEYOND_SENSE) {
    c.doubt('main_compressor.suction_temperature lies below saturation: suction taken as saturated');
    return dew;
  }
  if (superheat < -BEYOND_NOISE) c.doubt('main_compressor.suction_temperature lies below saturation');
  return besideSaturation(c, dew, superheat);
}

function condensedLiquid(c: CycleContext): State | Missing {
  const bubble = c.state('liquid:condenser');
  const above = c.point('condenser.liquid_temperature') - bubble.T;
  if (Number.isNaN(above)) return c.missing('');
  if (above > BEYOND_SENSE)
    return c.missing('condenser.liquid_temperature lies above saturation at condenser pressure');
  if (above > BEYOND_NOISE) c.doubt('condenser.liquid_temperature lies above saturation at condenser pressure');
  return besideSaturation(c, bubble, above);
}

/**
 * The state `dT` away from saturated liquid or vapour at its pressure; on the wet side the single phase is continued
 * with its heat capacity.
 */
export function besideSaturation(c: CycleContext, saturated: State, dT: number): State {
  if (Math.abs(dT) < 1e-9) return saturated;
  const single = saturated.q === 1 ? dT > 1e-3 : dT < -1e-3;
  if (single) return c.take(c.refrigerant.TP(saturated.T + dT, saturated.p));
  return c.take(c.refrigerant.PH(saturated.p, saturated.h + (saturated.cp as number) * dT));
}
