/**
 * One interval's measurements brought into agreement with the balances of the circuit: the equations are taken at the
 * present values, solved, and taken again where the solution lies, until nothing moves by more than a hundredth of its
 * standard uncertainty.
 */
import type { State } from '../../refrigerant/types.ts';
import type { Circuit } from '../arrangements/type.ts';
import type { Input, Interval } from '../interval.ts';
import { Ledger } from '../ledger.ts';
import { Adjustment, Causes } from './adjust.ts';
import { Equations } from './equations.ts';
import { isUnmeasured, namesOf, type Relation, relationsOf } from './model.ts';

/** Part of a standard uncertainty by which an input is moved to see what follows. */
export const STEP = 0.1;
/** In standard uncertainties of each input. */
const NEAR_ENOUGH = 0.01;
const ROUNDS_MAX = 12;
/** Patterns of missing points for which the compiled balances are kept. */
const COMPILED_MAX = 32;

/** The calculation at some values of the inputs, and once more for each input moved a little, as it is asked for. */
export class Leaf {
  readonly interval: Interval;
  readonly base: Ledger;
  readonly #shifted: (Ledger | undefined)[] = [];

  constructor(interval: Interval, method: Ledger['capacityMethod']) {
    this.interval = interval;
    this.base = new Ledger(interval);
    this.base.capacityMethod = method;
  }

  /** With that input moved by `STEP` of its uncertainty; null where it has none. */
  moved(input: number): Ledger | null {
    const { u, reason } = this.interval.inputs[input] as Input;
    if (!(u > 0) || reason !== null) return null;
    this.#shifted[input] ??= new Ledger(this.interval, { base: this.base, by: new Map([[input, u * STEP]]) });
    return this.#shifted[input];
  }

  /** With all inputs moved at once, each by so much of its own unit. */
  along(by: ReadonlyMap<number, number>): Ledger {
    return new Ledger(this.interval, { base: this.base, by });
  }

  /** The capacity by another balance: what was moved before is computed anew. */
  choose(method: Ledger['capacityMethod']): void {
    this.base.capacityMethod = method;
    for (const ledger of this.#shifted) if (ledger !== undefined) ledger.capacityMethod = method;
  }
}

export interface Balanced {
  readonly leaf: Leaf;
  readonly adjustment: Adjustment;
  readonly equations: Equations;
  /** Residual of each relation before and after, in its size (heat: of rated capacity). */
  readonly before: Float64Array;
  readonly after: Float64Array;
}

/** The values that close the balances were not found: what the readings say of each other to first order, and why. */
export interface Unbalanced {
  readonly problem: string;
  readonly adjustment: Adjustment;
}

/** Null: nothing to reconcile. */
export function reconcile(start: Leaf, causes: Causes, compiled: CompiledBalances): Balanced | Unbalanced | null {
  const equations = compiled.of(start);
  if (equations === null) return null;
  let leaf = start;
  let known = knownValues(leaf.base, leaf.interval, equations.known);
  let unknown = firstGuess(equations, known, start.base);
  let xi = new Float64Array(causes.count);
  let at = new Float64Array(start.interval.inputs.length);
  let first: { readonly residual: Float64Array; readonly adjustment: Adjustment } | null = null;
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const linearized = equations.linearized(known, unknown, movesOf(leaf, equations.known, known));
    const adjustment = new Adjustment(linearized, causes, xi);
    if (adjustment.dof === 0) return null;
    first ??= { residual: linearized.residual, adjustment };
    if (farthest(adjustment.correction, at, start.interval) < NEAR_ENOUGH)
      return { leaf, adjustment, equations, before: first.residual, after: linearized.residual };
    xi = Float64Array.from(adjustment.xi);
    at = Float64Array.from(adjustment.correction);
    unknown = equations.stepped(unknown, adjustment.step);
    leaf = new Leaf(moved(start.interval, at), start.base.capacityMethod);
    known = knownValues(leaf.base, leaf.interval, equations.known);
    if (known.some(Number.isNaN))
      return { problem: 'what would close the balances is no cycle', adjustment: first.adjustment };
  }
  // at an edge of the calculation (superheat gone) the rounds may go to and fro
  return first === null ? null : { problem: 'the balances do not close', adjustment: first.adjustment };
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

/** The balances of one machine compiled to numbers, kept by what is missing, so that a minute need not do it again. */
export class CompiledBalances {
  readonly #relations = new Map<Circuit, readonly Relation[]>();
  readonly #equations = new Map<string, Equations | null>();

  /** Of the relations whose measured quantities are all there; null where they relate nothing. */
  of({ base, interval }: Leaf): Equations | null {
    const { parameters, table, economizing } = interval;
    const { circuit } = table;
    const machines = circuit.machines.filter(({ name }) => isFree(base, name));
    const free = new Set(machines.map(({ discharge }) => `h:${discharge}`));
    const relations = this.#relations.get(circuit) ?? relationsOf(circuit, parameters);
    this.#relations.set(circuit, relations);
    const missing = new Set(
      namesOf(relations).filter((name) => !isUnmeasured(name) && Number.isNaN(knownValue(base, interval, name))),
    );
    const key = [economizing ? 'on' : 'off', ...free, '-', ...missing].join(' ');
    const before = this.#equations.get(key);
    if (before !== undefined) return before;
    const usable = relations.filter(({ terms }) =>
      terms.every(({ factors }) => !factors.some((name) => missing.has(name))),
    );
    const told = usable.filter(tells);
    // without any measured heat or power every flow could be zero: nothing of the size of flows is related
    const kept = told.some(({ kind }) => kind === 'energy') ? usable : told;
    const made = told.length === 0 ? null : new Equations(kept, free, { heat: parameters.rated_capacity });
    if (this.#equations.size >= COMPILED_MAX) this.#equations.clear();
    this.#equations.set(key, made);
    return made;
  }
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
  const quantity = quantityOf(name);
  if (!ledger.knows(quantity)) return Number.NaN;
  const entry = ledger.entry(quantity);
  if (typeof entry === 'number') return entry;
  return 'h' in entry ? (entry as State).h : Number.NaN;
}

function knownValues(ledger: Ledger, interval: Interval, names: readonly string[]): Float64Array {
  return Float64Array.from(names, (name) => knownValue(ledger, interval, name));
}

/** How the known quantities move with each input, per unit of it. */
function movesOf(leaf: Leaf, names: readonly string[], known: Float64Array): Float64Array[] {
  const { base, interval } = leaf;
  const still = new Float64Array(names.length);
  const moves = interval.inputs.map(() => still);
  const own = (input: number): Float64Array => {
    if (moves[input] === still) moves[input] = new Float64Array(names.length);
    return moves[input] as Float64Array;
  };
  names.forEach((name, k) => {
    const at = interval.inputIndex.get(name);
    if (at !== undefined) {
      own(at)[k] = 1;
      return;
    }
    const quantity = quantityOf(name);
    interval.inputs.forEach(({ u }, input) => {
      const ledger = base.dependsOn(quantity, input) ? leaf.moved(input) : null;
      if (ledger === null) return;
      const moved = (knownValue(ledger, interval, name) - (known[k] as number)) / (u * STEP);
      // an edge of what can be computed lies within a tenth of its uncertainty: taken as not moving
      if (!Number.isNaN(moved)) own(input)[k] = moved;
    });
  });
  return moves;
}

/** Name in the ledger of a quantity of the balances. */
function quantityOf(name: string): string {
  return name.startsWith('h:') ? `state:${name.slice(2)}` : name;
}

/** Flows, heats and powers that fit the measurements best; enthalpies that are free as the ledger has them. */
function firstGuess(equations: Equations, known: Float64Array, base: Ledger): Float64Array {
  const start = Float64Array.from(equations.unknown, (name) => {
    const entry = name.startsWith('h:') ? base.entry(quantityOf(name)) : 0;
    return typeof entry === 'object' && 'h' in entry ? (entry as State).h : 0;
  });
  const none = new Causes([]);
  const { step } = new Adjustment(equations.linearized(known, start, []), none);
  return equations.stepped(start, step);
}
