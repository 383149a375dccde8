/**
 * What one more sensor would buy: each point that is not there yet is added in turn, reading what the rest says it
 * would read (or, where the rest cannot say, what such a machine usually shows), and the interval is solved again.
 */
import type { PointName } from '../points/dictionary.ts';
import type { PointValue, Snapshot } from '../points/types.ts';
import type { State } from '../refrigerant/types.ts';
import { openBooks, type PreparedMachine } from './books.ts';
import { CYCLE_POINTS } from './inputs.ts';
import type { Ledger } from './ledger.ts';
import type { Solution } from './types.ts';
import { waterDensity, waterHeatCapacity } from './water.ts';

export interface OneMore {
  readonly point: PointName;
  /** Metrics that it gives, or whose uncertainty it brings down by a tenth or more; catalogue units, k = 2. */
  readonly metrics: readonly Bought[];
  /** Points already there that the balances could check with it and cannot without it. */
  readonly checks: readonly PointName[];
}

export interface Bought {
  readonly name: string;
  /** Null: the metric is out of reach now. */
  readonly now: number | null;
  readonly with_it: number;
}

/** Least part by which an uncertainty must fall to be told. */
const WORTH = 0.1;
/** What such a machine usually shows where nothing tells: common practice, no source. */
const USUAL = { range: 5.5, approach: 2, subcooling: 4, load: 0.7, power: 0.17, tank: 1.04 };

type Solve = (snapshot: Snapshot) => Solution;

/** `uncertaintyOf`: standard uncertainty (k = 1, SI) that a sensor of that point would have at that reading. */
export function oneMore(
  machine: PreparedMachine,
  snapshot: Snapshot,
  means: { readonly solve: Solve; readonly uncertaintyOf: (point: PointName, value: number) => number },
): readonly OneMore[] {
  const { base } = openBooks(machine, snapshot, { uncertainty: true });
  const now = means.solve(snapshot);
  const missing = CYCLE_POINTS.filter((name) => snapshot.points[name] === undefined);
  const told = missing.flatMap((point): OneMore[] => {
    const value = reading(point, base, snapshot, machine);
    if (value === null || !Number.isFinite(value)) return [];
    const added = exact(value, means.uncertaintyOf(point, value));
    const then = means.solve({ ...snapshot, points: { ...snapshot.points, [point]: added } });
    const found = { point, metrics: boughtBy(now, then), checks: checksOf(now, then) };
    return found.metrics.length > 0 || found.checks.length > 0 ? [found] : [];
  });
  const worth = ({ metrics, checks }: OneMore): number =>
    metrics.filter(({ now: u }) => u === null).length * 10 + metrics.length + checks.length;
  return told.sort((a, b) => worth(b) - worth(a));
}

function exact(value: number, u: number): PointValue {
  return { value, u, quality: 'good', reason: null, age_s: 0, spread: null, n: 1 };
}

function boughtBy(now: Solution, then: Solution): Bought[] {
  return Object.entries(then.metrics).flatMap(([name, figure]): Bought[] => {
    const before = now.metrics[name];
    if (figure.value === null || figure.uncertainty === null) return [];
    if (before?.value == null) return [{ name, now: null, with_it: figure.uncertainty }];
    if (before.uncertainty === null || figure.uncertainty > (1 - WORTH) * before.uncertainty) return [];
    return [{ name, now: before.uncertainty, with_it: figure.uncertainty }];
  });
}

function checksOf(now: Solution, then: Solution): PointName[] {
  const before = now.reconciliation.points;
  return Object.entries(then.reconciliation.points)
    .filter(([name, { redundant }]) => redundant && before[name]?.redundant === false)
    .map(([name]) => name);
}

/** SI; null where this machine has no such thing. */
function reading(name: PointName, base: Ledger, snapshot: Snapshot, machine: PreparedMachine): number | null {
  const [component = '', quantity = ''] = name.split('.');
  if (component === 'chilled_water' || component === 'condenser_water')
    return waterReading(component, quantity, base, snapshot, machine);
  const state = (of: string): State | null => {
    const entry = base.knows(of) ? base.entry(of) : null;
    return entry !== null && typeof entry === 'object' && 'h' in entry ? (entry as State) : null;
  };
  const figure = (of: string): number | null => {
    const entry = base.knows(of) ? base.entry(of) : null;
    return typeof entry === 'number' ? entry : null;
  };
  switch (name) {
    case 'evaporator.pressure':
      return saturation(machine, point(snapshot, 'chilled_water.leaving_temperature'), -USUAL.approach);
    case 'condenser.pressure':
      return saturation(machine, point(snapshot, 'condenser_water.leaving_temperature'), USUAL.approach);
    case 'condenser.liquid_temperature':
      return state('state:3')?.T ?? lower(state('liquid:condenser'), USUAL.subcooling);
    case 'flash_tank.pressure':
      return figure('p:flash_tank') ?? figure('p:ghost:flash_tank');
    case 'flash_tank.temperature':
      return saturationTemperature(machine, figure('p:flash_tank') ?? figure('p:ghost:flash_tank'));
    case 'main_compressor.suction_temperature':
      return state('state:1')?.T ?? null;
    case 'main_compressor.discharge_temperature':
    case 'economizer_compressor.discharge_temperature':
      return state(`discharge:${component}`)?.T ?? null;
    case 'main_compressor.power':
    case 'economizer_compressor.power':
    case 'unit.power':
      return figure(name) ?? (name === 'unit.power' ? usualPower(machine) : null);
    case 'economizer_compressor.running':
    case 'economizer.running':
      return 1;
    default:
      return null;
  }
}

function waterReading(
  side: 'chilled_water' | 'condenser_water',
  quantity: string,
  base: Ledger,
  snapshot: Snapshot,
  { parameters }: PreparedMachine,
): number | null {
  const [warm, cold] = side === 'chilled_water' ? ['entering', 'leaving'] : ['leaving', 'entering'];
  const high = point(snapshot, `${side}.${warm}_temperature`);
  const low = point(snapshot, `${side}.${cold}_temperature`);
  if (quantity === `${warm}_temperature`) return low === null ? null : low + USUAL.range;
  if (quantity === `${cold}_temperature`) return high === null ? null : high - USUAL.range;
  const heat = base.entry(side === 'chilled_water' ? 'unit.capacity' : 'condenser.heat_rejected');
  const carried = typeof heat === 'number' ? heat : USUAL.load * parameters.rated_capacity;
  const bundle = parameters[`${side}_bundle`];
  if (high === null || low === null || !(high > low)) return null;
  const mean = (high + low) / 2;
  const flow = carried / (waterDensity(mean) * waterHeatCapacity(mean) * (high - low));
  if (quantity === 'flow') return flow;
  return bundle === undefined ? null : bundle.pressure_drop * (flow / bundle.flow) ** bundle.exponent;
}

function point(snapshot: Snapshot, name: string): number | null {
  return snapshot.points[name]?.value ?? null;
}

function usualPower({ parameters }: PreparedMachine): number {
  return USUAL.load * USUAL.power * parameters.rated_capacity;
}

function lower(state: State | null, by: number): number | null {
  return state === null ? null : state.T - by;
}

function saturation({ fluid }: PreparedMachine, T: number | null, by: number): number | null {
  const found = T === null ? null : fluid.bubblePressure(T + by);
  return found?.ok === true ? found.value : null;
}

function saturationTemperature({ fluid }: PreparedMachine, p: number | null): number | null {
  const found = p === null ? null : fluid.bubbleTemperature(p);
  return found?.ok === true ? found.value : null;
}
