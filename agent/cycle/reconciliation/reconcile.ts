/**
 * One interval's measurements brought into agreement with the balances of the circuit: the equations are taken at the
 * present values, solved, and taken again where the solution lies, until nothing moves by more than a hundredth of its
 * standard uncertainty.
 */
import type { State } from '../../refrigerant/types.ts';
import type { Circuit } from '../arrangements/type.ts';
import { CYCLE_POINTS } from '../inputs.ts';
import type { Input, Interval } from '../interval.ts';
import { Ledger } from '../ledger.ts';
import { type Vector, zeros } from '../vector.ts';
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
  readonly before: Vector;
  readonly after: Vector;
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
  const places = equations.known.map((name) => placeOf(leaf, name));
  let known = knownValues(leaf, places);
  let unknown = firstGuess(equations, known, start.base);
  let xi = zeros(causes.count);
  let at = zeros(start.interval.inputs.length);
  let first: { readonly residual: Vector; readonly adjustment: Adjustment } | null = null;
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const linearized = equations.linearized(known, unknown, movesOf(leaf, places, known));
    const adjustment = new Adjustment(linearized, causes, xi);
    if (adjustment.dof === 0) return null;
    first ??= { residual: linearized.residual, adjustment };
    if (farthest(adjustment.correction, at, start.interval) < NEAR_ENOUGH)
      return { leaf, adjustment, equations, before: first.residual, after: linearized.residual };
    xi = adjustment.xi.slice();
    at = adjustment.correction.slice();
    unknown = equations.stepped(unknown, adjustment.step);
    leaf = new Leaf(moved(start.interval, at), start.base.capacityMethod);
    known = knownValues(leaf, places);
    if (known.some(Number.isNaN))
      return { problem: 'what would close the balances is no cycle', adjustment: first.adjustment };
  }
  // at an edge of the calculation (superheat gone) the rounds may go to and fro
  return first === null ? null : { problem: 'the balances do not close', adjustment: first.adjustment };
}

function moved(interval: Interval, by: Vector): Interval {
  const inputs = interval.inputs.map((input, at) =>
    by[at] === 0 ? input : { ...input, value: input.value + (by[at] as number) },
  );
  return { ...interval, inputs };
}

function farthest(correction: Vector, at: Vector, { inputs }: Interval): number {
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
  of(leaf: Leaf): Equations | null {
    const { base, interval } = leaf;
    const { parameters, table, economizing } = interval;
    const { circuit } = table;
    const machines = circuit.machines.filter(({ name }) => isFree(base, name));
    const free = new Set(machines.map(({ discharge }) => `h:${discharge}`));
    const relations = this.#relations.get(circuit) ?? relationsOf(circuit, parameters);
    this.#relations.set(circuit, relations);
    const missing = new Set(
      namesOf(relations).filter(
        (name) => !isUnmeasured(name) && Number.isNaN(knownValue(base, interval, placeOf(leaf, name))),
      ),
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

/** Where a known quantity of the balances is found: it is an input, or an entry of the ledger, or nowhere (-1). */
interface Place {
  readonly input: number;
  readonly entry: number;
}

const POINTS: ReadonlySet<string> = new Set(CYCLE_POINTS);

function placeOf({ base, interval }: Leaf, name: string): Place {
  const quantity = quantityOf(name);
  const input = interval.inputIndex.get(name) ?? -1;
  // a point that is not measured is no quantity either: the metric of that name is what the balances are to give
  const computed = input < 0 && !POINTS.has(name) && base.knows(quantity);
  return { input, entry: computed ? base.find(quantity) : -1 };
}

function knownValue(ledger: Ledger, { inputs }: Interval, { input, entry }: Place): number {
  if (input >= 0) return inputs[input]?.reason === null ? inputs[input].value : Number.NaN;
  if (entry < 0) return Number.NaN;
  const value = ledger.entryAt(entry);
  if (typeof value === 'number') return value;
  return 'h' in value ? (value as State).h : Number.NaN;
}

function knownValues({ base, interval }: Leaf, places: readonly Place[]): Vector {
  return places.map((place) => knownValue(base, interval, place));
}

/** How the known quantities move with each input, per unit of it; null where none of them does. */
function movesOf(leaf: Leaf, places: readonly Place[], known: Vector): (Vector | null)[] {
  const { base, interval } = leaf;
  return interval.inputs.map(({ u }, input) => {
    let moves: Vector | null = null;
    for (let k = 0; k < places.length; k++) {
      const place = places[k] as Place;
      const moved = place.input === input ? 1 : movedBy(place, k);
      if (moved === 0) continue;
      moves ??= zeros(places.length);
      moves[k] = moved;
    }
    return moves;

    function movedBy(place: Place, k: number): number {
      const ledger = place.entry >= 0 && base.comesFrom(place.entry, input) ? leaf.moved(input) : null;
      if (ledger === null) return 0;
      const moved = (knownValue(ledger, interval, place) - (known[k] as number)) / (u * STEP);
      // an edge of what can be computed lies within a tenth of its uncertainty: taken as not moving
      return Number.isNaN(moved) ? 0 : moved;
    }
  });
}

/** Name in the ledger of a quantity of the balances. */
function quantityOf(name: string): string {
  if (!name.startsWith('h:')) return name;
  return name.startsWith('h:liquid:') ? name.slice(2) : `state:${name.slice(2)}`;
}

/** Flows, heats and powers that fit the measurements best; enthalpies that are free as the ledger has them. */
function firstGuess(equations: Equations, known: Vector, base: Ledger): Vector {
  const start = equations.unknown.map((name) => {
    const entry = name.startsWith('h:') ? base.entry(quantityOf(name)) : 0;
    return typeof entry === 'object' && 'h' in entry ? (entry as State).h : 0;
  });
  const none = new Causes([]);
  const { step } = new Adjustment(equations.linearized(known, start, []), none);
  return equations.stepped(start, step);
}
