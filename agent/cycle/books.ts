/** The ledgers of one interval: the calculation as measured, and once more for each independent cause of error. */
import type { Snapshot } from '../points/types.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import type { CapacityMethod, Value } from './context.ts';
import { causesOf, economizerRunning, inputsOf } from './inputs.ts';
import type { Interval } from './interval.ts';
import { Ledger } from './ledger.ts';
import type { ChillerParameters } from './parameters.ts';
import { CAPACITY_METHODS } from './quantities/capacity.ts';
import type { Tables } from './tables.ts';

/** Part of a standard uncertainty by which an input is moved to see what follows. */
const STEP = 0.1;

const NOTHING_GIVEN: ReadonlyMap<string, Value> = new Map();

/** A machine as the solver knows it. */
export interface PreparedMachine {
  readonly parameters: ChillerParameters;
  readonly fluid: Refrigerant;
  readonly tables: Tables;
}

/** The ledger of an interval with the capacity method chosen, and one for each independent cause of error. */
export interface Books {
  readonly base: Ledger;
  readonly shifted: readonly Ledger[];
}

export function openBooks(
  machine: PreparedMachine,
  snapshot: Snapshot,
  options: { readonly uncertainty: boolean; readonly given?: ReadonlyMap<string, Value> },
): Books {
  const { parameters, fluid, tables } = machine;
  const running = economizerRunning(snapshot, parameters);
  const economizing = running.economizer === 'on' || running.economizer === 'unknown';
  const inputs = inputsOf(snapshot, parameters);
  const interval: Interval = {
    parameters,
    refrigerant: fluid,
    table: running.economizer === 'off' ? tables.off : tables.on,
    inputs,
    inputIndex: new Map(inputs.map((input, index) => [input.name, index])),
    economizing,
    economizingFrom: running.from,
    economizingDoubt: running.doubt,
    given: options.given ?? NOTHING_GIVEN,
  };
  const base = new Ledger(interval);
  const causes = options.uncertainty ? causesOf(inputs, parameters) : [];
  const shifted = causes.map((cause) => {
    const by = new Map([...cause].map(([index, u]) => [index, u * STEP]));
    return new Ledger(interval, { base, by });
  });
  const books = { base, shifted };
  base.capacityMethod = chooseCapacity(books);
  for (const ledger of shifted) ledger.capacityMethod = base.capacityMethod;
  return books;
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

/** k = 1, SI; null where a small change of an input leaves no value, or no finite one. */
export function standardUncertainty(books: Books, name: string): number | null {
  const value = books.base.entry(name);
  if (typeof value !== 'number') return null;
  let variance = 0;
  for (const ledger of books.shifted) {
    if (!books.base.dependsOn(name, ledger)) continue;
    const moved = ledger.entry(name);
    if (typeof moved !== 'number') return null;
    variance += ((moved - value) / STEP) ** 2;
  }
  const u = Math.sqrt(variance);
  return Number.isFinite(u) ? u : null;
}
