/**
 * One interval's measurements brought into agreement with the balances of the circuit: the equations are taken at the
 * present values, solved, and taken again where the solution lies, until nothing moves by more than a hundredth of its
 * standard uncertainty.
 */
import type { State } from '../../refrigerant/types.ts';
import type { Interval } from '../interval.ts';
import { Ledger } from '../ledger.ts';
import { Adjustment, type Cause } from './adjust.ts';
import { Equations } from './equations.ts';
import { type Relation, relationsOf } from './model.ts';

/** Part of a standard uncertainty by which an input is moved to see what follows. */
export const STEP = 0.1;
/** In standard uncertainties of each input. */
const NEAR_ENOUGH = 0.01;
const ROUNDS_MAX = 12;

/** The calculation at some values of the inputs, and once more for each input moved a little. */
export interface Leaf {
  readonly interval: Interval;
  readonly base: Ledger;
  readonly shifted: readonly { readonly input: number; readonly ledger: Ledger }[];
}

export function leafOf(interval: Interval, method: Ledger['capacityMethod']): Leaf {
  const base = new Ledger(interval);
  base.capacityMethod = method;
  const shifted = interval.inputs.flatMap((input, at) => {
    if (!(input.u > 0) || input.reason !== null) return [];
    return [{ input: at, ledger: new Ledger(interval, { base, by: new Map([[at, input.u * STEP]]) }) }];
  });
  return { interval, base, shifted };
}

export interface Balanced {
  readonly leaf: Leaf;
  readonly adjustment: Adjustment;
  readonly equations: Equations;
  /** Residual of each relation before and after, in its size (heat: of rated capacity). */
  readonly before: Float64Array;
  readonly after: Float64Array;
}

/** Null: nothing to reconcile. A text: why it could not be done. */
export function reconcile(start: Leaf, causes: readonly Cause[]): Balanced | string | null {
  const equations = equationsOf(start);
  if (equations === null) return null;
  let leaf = start;
  let known = knownValues(leaf.base, leaf.interval, equations.known);
  let unknown = firstGuess(equations, known, start.base);
  let xi = new Float64Array(causes.length);
  let at = new Float64Array(start.interval.inputs.length);
  let before: Float64Array | null = null;
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const linearized = equations.linearized(known, unknown, movesOf(leaf, equations.known, known));
    const adjustment = new Adjustment(linearized, causes, xi);
    if (adjustment.dof === 0) return null;
    before ??= linearized.residual;
    if (farthest(adjustment.correction, at, start.interval) < NEAR_ENOUGH)
      return { leaf, adjustment, equations, before, after: linearized.residual };
    xi = Float64Array.from(adjustment.xi);
    at = Float64Array.from(adjustment.correction);
    unknown = equations.stepped(unknown, adjustment.step);
    leaf = leafOf(moved(start.interval, at), start.base.capacityMethod);
    known = knownValues(leaf.base, leaf.interval, equations.known);
    if (known.some(Number.isNaN)) return 'the values that close the balances lie outside what the cycle can be';
  }
  return 'the balances do not close within a reasonable number of rounds';
}

function moved(interval: Interval, by: Float64Array): Interval {
  const inputs = interval.inputs.map((input, at) =>
    by[at] === 0 ? input : { ...input, value: input.value + (by[at] as number) },
  );
  return { ...interval, inputs };
}

function farthest(correction: Float64Array, at: Float64Array, { inputs }: Interval): number {
  let most = 0;
  inputs.forEach(({ u }, i) => {
    if (u > 0) most = Math.max(most, Math.abs((correction[i] as number) - (at[i] as number)) / u);
  });
  return most;
}

/** Of the relations whose measured quantities are all there; null where they relate nothing. */
function equationsOf({ base, interval }: Leaf): Equations | null {
  const { parameters, table } = interval;
  const free = new Set(
    table.circuit.machines.filter(({ name }) => isFree(base, name)).map(({ discharge }) => `h:${discharge}`),
  );
  const all = new Equations(relationsOf(table.circuit, parameters), free, { heat: parameters.rated_capacity });
  const there = new Set<string>(all.unknown);
  knownValues(base, interval, all.known).forEach((value, at) => {
    if (!Number.isNaN(value)) there.add(all.known[at] as string);
  });
  for (const name of free) if (Number.isNaN(knownValue(base, interval, name))) there.delete(name);
  const usable = all.relations.filter(({ terms }) => terms.every(({ factors }) => factors.every((f) => there.has(f))));
  const told = usable.filter(tells);
  // without any measured heat or power every flow could be zero: nothing of the size of flows is related
  const sized = told.some(({ kind }) => kind === 'energy');
  const kept = sized ? usable : told;
  return told.length === 0 ? null : new Equations(kept, free, { heat: parameters.rated_capacity });
}

/** A sensor's reading stands in it by itself. */
function tells({ terms }: Relation): boolean {
  return terms.some(({ factors: [only, more] }) => more === undefined && only !== undefined && MEASURED.test(only));
}

const MEASURED = /^(water_heat:|meter:|volts_amps:|unit\.power$|tank_contradiction$|flow_contradiction:)/;

/** No sensor and no assumption tells this machine's discharge: only its power does. */
function isFree(base: Ledger, machine: string): boolean {
  return !base.has(`measured:${machine}`) && base.has(`known:${machine}`);
}

function knownValue(ledger: Ledger, { inputs, inputIndex }: Interval, name: string): number {
  const at = inputIndex.get(name);
  if (at !== undefined) return inputs[at]?.reason === null ? ledger.point(name) : Number.NaN;
  const enthalpy = name.startsWith('h:');
  const quantity = enthalpy ? `state:${name.slice(2)}` : name;
  if (!ledger.knows(quantity)) return Number.NaN;
  const entry = ledger.entry(quantity);
  if (typeof entry === 'number') return entry;
  return enthalpy && 'h' in entry ? (entry as State).h : Number.NaN;
}

function knownValues(ledger: Ledger, interval: Interval, names: readonly string[]): Float64Array {
  return Float64Array.from(names, (name) => knownValue(ledger, interval, name));
}

/** How the known quantities move with each input, per unit of it. */
function movesOf({ base, shifted, interval }: Leaf, names: readonly string[], known: Float64Array): Float64Array[] {
  const still = new Float64Array(names.length);
  const moves = interval.inputs.map(() => still);
  for (const { input, ledger } of shifted) {
    const by = (interval.inputs[input]?.u as number) * STEP;
    const own = new Float64Array(names.length);
    names.forEach((name, k) => {
      const at = interval.inputIndex.get(name);
      if (at !== undefined) own[k] = at === input ? 1 : 0;
      else if (base.dependsOn(name.startsWith('h:') ? `state:${name.slice(2)}` : name, ledger))
        own[k] = (knownValue(ledger, interval, name) - (known[k] as number)) / by;
    });
    // an edge of what can be computed lies within a tenth of its uncertainty: taken as not moving
    moves[input] = own.map((value) => (Number.isNaN(value) ? 0 : value));
  }
  return moves;
}

/** Flows, heats and powers that fit the measurements best; enthalpies that are free as the ledger has them. */
function firstGuess(equations: Equations, known: Float64Array, base: Ledger): Float64Array {
  const start = Float64Array.from(equations.unknown, (name) => {
    const entry = name.startsWith('h:') ? base.entry(`state:${name.slice(2)}`) : 0;
    return typeof entry === 'object' && 'h' in entry ? (entry as State).h : 0;
  });
  const none: Cause[] = [];
  const { step } = new Adjustment(equations.linearized(known, start, []), none);
  return equations.stepped(start, step);
}
