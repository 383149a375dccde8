/**
 * The ledgers of one interval: the calculation where the measurements agree with the balances, and once more for each
 * uncertain input moved a little. Without anything redundant that is the calculation as measured.
 */
import type { Snapshot } from '../points/types.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import type { CapacityMethod, Value } from './context.ts';
import { candidatesOf, causesOf, economizerRunning, inputsOf } from './inputs.ts';
import type { Interval } from './interval.ts';
import type { Ledger } from './ledger.ts';
import type { ChillerParameters } from './parameters.ts';
import { CAPACITY_METHODS } from './quantities/capacity.ts';
import { type Adjustment, type Cause, Causes, dot, propagated } from './reconciliation/adjust.ts';
import { type Balanced, CompiledBalances, Leaf, reconcile, STEP, type Unbalanced } from './reconciliation/reconcile.ts';
import { judge, type Verdict } from './reconciliation/suspects.ts';
import type { Tables } from './tables.ts';
import { type Vector, zeros } from './vector.ts';

const NOTHING_GIVEN: ReadonlyMap<string, Value> = new Map();

/** A machine as the solver knows it. */
export interface PreparedMachine {
  readonly parameters: ChillerParameters;
  readonly fluid: Refrigerant;
  readonly tables: Tables;
  /** Left out: the balances are compiled anew for each interval. */
  readonly balances?: CompiledBalances;
}

/** Values of the inputs and what they lead to; `adjustment`: what the balances took off their uncertainty. */
export interface Books {
  readonly leaf: Leaf;
  readonly base: Ledger;
  readonly causes: Causes;
  readonly adjustment: Adjustment | null;
}

export interface OpenBooks extends Books {
  /** As measured, before the balances were weighed. */
  readonly measured: Books;
  /** Null where nothing is redundant. */
  readonly balanced: Balanced | Unbalanced | null;
  /** What the balances say of the readings; null where they say nothing. */
  readonly verdict: Verdict | null;
}

export interface OpenOptions {
  readonly uncertainty: boolean;
  /** The machine stands still: there is no circuit to balance. Left out: it runs. */
  readonly running?: boolean;
  readonly given?: ReadonlyMap<string, Value>;
  /** Inputs that get no weight where others tell as much, because they were found to be off. */
  readonly distrusted?: readonly string[];
}

/** By how much the uncertainty of a distrusted input is raised. */
const NO_WEIGHT = 1000;

export function openBooks(machine: PreparedMachine, snapshot: Snapshot, options: OpenOptions): OpenBooks {
  const { parameters } = machine;
  const interval = intervalOf(machine, snapshot, options.given ?? NOTHING_GIVEN);
  const independent = options.uncertainty ? causesOf(interval.inputs, parameters) : [];
  const causes = new Causes(independent);
  const start = new Leaf(options.uncertainty ? interval : { ...interval, inputs: sure(interval) }, null);
  const measured: Books = { leaf: start, base: start.base, causes, adjustment: null };
  start.choose(chooseCapacity(measured));
  // where nobody knows which way the circuit runs, its balances prove nothing
  const known = interval.economizingDoubt === null && options.given === undefined && options.uncertainty;
  const compiled = machine.balances ?? new CompiledBalances();
  const balanced = known && options.running !== false ? reconcile(start, causes, compiled) : null;
  if (balanced === null) return { ...measured, measured, balanced, verdict: null };
  const verdict = judge(balanced.adjustment, candidatesOf(interval.inputs));
  if ('problem' in balanced) return { ...measured, measured, balanced, verdict };
  const without = (options.distrusted ?? []).filter((name) => name in (verdict?.corrections ?? {}));
  const plain = { ...at(balanced, causes), measured, balanced, verdict };
  if (without.length === 0 || balanced.adjustment.dof < 2) return plain;
  const wide = weightless(independent, new Set(without.map((name) => interval.inputIndex.get(name) as number)));
  const again = reconcile(start, wide, compiled);
  if (again === null || 'problem' in again) return plain;
  return { ...plain, ...at(again, wide) };
}

function at({ leaf, adjustment }: Balanced, causes: Causes): Books {
  return { leaf, base: leaf.base, causes, adjustment };
}

function weightless(causes: readonly Cause[], inputs: ReadonlySet<number>): Causes {
  const raised = causes.map(({ moves, random }): Cause => {
    const distrusted = [...moves.keys()].some((at) => inputs.has(at));
    const raise = ([at, by]: [number, number]): [number, number] => [at, inputs.has(at) ? by * NO_WEIGHT : by];
    // what is made up lasts: none of it may average out
    return { moves: new Map([...moves].map(raise)), random: distrusted ? 0 : random };
  });
  return new Causes(raised);
}

function intervalOf(machine: PreparedMachine, snapshot: Snapshot, given: Interval['given']): Interval {
  const { parameters, fluid, tables } = machine;
  const running = economizerRunning(snapshot, parameters);
  const inputs = inputsOf(snapshot, parameters);
  return {
    parameters,
    refrigerant: fluid,
    table: running.economizer === 'off' ? tables.off : tables.on,
    inputs,
    inputIndex: new Map(inputs.map((input, index) => [input.name, index])),
    economizing: running.economizer === 'on' || running.economizer === 'unknown',
    economizingFrom: running.from,
    economizingDoubt: running.doubt,
    given,
  };
}

/** No uncertainties asked for: no ledgers for them. */
function sure({ inputs }: Interval): Interval['inputs'] {
  return inputs.map((input) => ({ ...input, u: 0, barometer: 0, random: 0 }));
}

/** Of the balances that give a capacity now, the one with the smallest uncertainty. */
function chooseCapacity(books: Books): CapacityMethod | null {
  let best: CapacityMethod | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (const method of CAPACITY_METHODS) {
    const name = `capacity:${method}`;
    if (!books.base.has(name)) continue;
    const u = standardUncertainty(books, name) ?? Number.MAX_VALUE;
    if (u < least) {
      best = method;
      least = u;
    }
  }
  return best;
}

/**
 * How a figure moves with each input, per unit of it; null where it has no value, or a small change of an input leaves
 * none.
 */
export function slopes({ leaf, base }: Books, name: string): Vector | null {
  const at = base.find(name);
  const value = base.entryAt(at);
  if (typeof value !== 'number') return null;
  const { inputs } = leaf.interval;
  const by = zeros(inputs.length);
  for (let input = 0; input < inputs.length; input++) {
    const ledger = base.comesFrom(at, input) ? leaf.moved(input) : null;
    if (ledger === null) continue;
    const moved = ledger.entryAt(at);
    if (typeof moved !== 'number') return null;
    by[input] = (moved - value) / (STEP * (inputs[input]?.u as number));
  }
  return by;
}

/** k = 1, SI, of what moves by `by` with each input; null where that is not known or not finite. */
export function spreadOf({ causes, adjustment }: Books, by: Vector | null): number | null {
  if (by === null) return null;
  const kept = propagated(by, causes, adjustment);
  const u = Math.sqrt(dot(kept, kept));
  return Number.isFinite(u) ? u : null;
}

/** Gauss and Hermite with three points: place of the outer ones in standard deviations, and their weight. */
const PLACE = Math.sqrt(3);
const WEIGHT = 1 / 6;

/**
 * k = 1, SI, of a figure that is no straight line over its uncertainty: the spread of its values along the direction in
 * which it moves most, within what the balances allow, by three points of Gauss and Hermite instead of a slope. `u`:
 * what the slope says, and the answer where an outer point leaves no value.
 */
export function curvedSpread({ leaf, base, causes, adjustment }: Books, name: string, by: Vector, u: number) {
  const kept = propagated(by, causes, adjustment);
  const move = new Map<number, number>();
  for (let k = 0; k < causes.cause.length; k++) {
    const share = ((kept[causes.cause[k] as number] as number) / u) * (causes.amount[k] as number);
    const input = causes.input[k] as number;
    move.set(input, (move.get(input) ?? 0) + share);
  }
  const here = base.entry(name) as number;
  // first and second moment about the value itself
  let [first, second] = [0, 0];
  for (const times of [-PLACE, PLACE]) {
    const moved = leaf.along(new Map([...move].map(([input, one]) => [input, one * times]))).entry(name);
    if (typeof moved !== 'number') return u;
    first += WEIGHT * (moved - here);
    second += WEIGHT * (moved - here) ** 2;
  }
  return Math.sqrt(Math.max(0, second - first ** 2));
}

/** k = 1, SI; null where a small change of an input leaves no value, or no finite one. */
export function standardUncertainty(books: Books, name: string): number | null {
  return spreadOf(books, slopes(books, name));
}
