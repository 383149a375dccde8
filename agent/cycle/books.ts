/**
 * The ledgers of one interval: the calculation where the measurements agree with the balances, and once more for each
 * uncertain input moved a little. Without anything redundant that is the calculation as measured.
 */
import type { Snapshot } from '../points/types.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import type { CapacityMethod, Value } from './context.ts';
import { candidatesOf, causesOf, economizerRunning, inputsOf } from './inputs.ts';
import type { Interval } from './interval.ts';
import type { ChillerParameters } from './parameters.ts';
import { CAPACITY_METHODS } from './quantities/capacity.ts';
import { type Adjustment, type Cause, dot, propagated } from './reconciliation/adjust.ts';
import { type Balanced, type Leaf, leafOf, reconcile, STEP } from './reconciliation/reconcile.ts';
import { judge, type Verdict } from './reconciliation/suspects.ts';
import type { Tables } from './tables.ts';

const NOTHING_GIVEN: ReadonlyMap<string, Value> = new Map();

/** A machine as the solver knows it. */
export interface PreparedMachine {
  readonly parameters: ChillerParameters;
  readonly fluid: Refrigerant;
  readonly tables: Tables;
}

/** Values of the inputs and what they lead to; `adjustment`: what the balances took off their uncertainty. */
export interface Books extends Leaf {
  readonly causes: readonly Cause[];
  readonly adjustment: Adjustment | null;
}

export interface OpenBooks extends Books {
  /** As measured, before the balances were weighed. */
  readonly measured: Books;
  /** Null where nothing is redundant; a text where the balances could not be closed. */
  readonly balanced: Balanced | string | null;
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
  const causes = options.uncertainty ? causesOf(interval.inputs, parameters) : [];
  const start = options.uncertainty ? leafOf(interval, null) : leafOf({ ...interval, inputs: sure(interval) }, null);
  const measured: Books = { ...start, causes, adjustment: null };
  start.base.capacityMethod = chooseCapacity(measured);
  for (const { ledger } of start.shifted) ledger.capacityMethod = start.base.capacityMethod;
  // where nobody knows which way the circuit runs, its balances prove nothing
  const known = interval.economizingDoubt === null && options.given === undefined && options.uncertainty;
  const balanced = known && options.running !== false ? reconcile(start, causes) : null;
  if (balanced === null || typeof balanced === 'string') return { ...measured, measured, balanced, verdict: null };
  const verdict = judge(balanced.adjustment, candidatesOf(interval.inputs));
  const without = (options.distrusted ?? []).filter((name) => name in (verdict?.corrections ?? {}));
  const plain = { ...balanced.leaf, causes, adjustment: balanced.adjustment, measured, balanced, verdict };
  if (without.length === 0 || balanced.adjustment.dof < 2) return plain;
  const wide = weightless(causes, new Set(without.map((name) => interval.inputIndex.get(name) as number)));
  const again = reconcile(start, wide);
  if (again === null || typeof again === 'string') return plain;
  return { ...plain, ...again.leaf, causes: wide, adjustment: again.adjustment };
}

function weightless(causes: readonly Cause[], inputs: ReadonlySet<number>): Cause[] {
  return causes.map((cause) => new Map([...cause].map(([at, by]) => [at, inputs.has(at) ? by * NO_WEIGHT : by])));
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
  return inputs.map((input) => ({ ...input, u: 0, barometer: 0 }));
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

/** How a figure moves with each input, per unit of it; null where a small change of an input leaves no value. */
export function slopes({ base, shifted, interval }: Books, name: string): Float64Array | null {
  const value = base.entry(name);
  if (typeof value !== 'number') return null;
  const by = new Float64Array(interval.inputs.length);
  for (const { input, ledger } of shifted) {
    if (!base.dependsOn(name, ledger)) continue;
    const moved = ledger.entry(name);
    if (typeof moved !== 'number') return null;
    by[input] = (moved - value) / (STEP * (interval.inputs[input]?.u as number));
  }
  return by;
}

/** k = 1, SI; null where a small change of an input leaves no value, or no finite one. */
export function standardUncertainty(books: Books, name: string): number | null {
  const by = slopes(books, name);
  if (by === null) return null;
  const kept = propagated(by, books.causes, books.adjustment);
  const u = Math.sqrt(dot(kept, kept));
  return Number.isFinite(u) ? u : null;
}
