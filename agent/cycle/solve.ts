/**
 * One interval solved: states, flows and metrics of the cycle from whatever points there are, each metric with the
 * uncertainty that its inputs give it (first order, GUM; expanded k = 2) and the quality of the worst of them. Pure;
 * never throws for any snapshot.
 */
import type { Figure } from '../base/metric.ts';
import { ok, type Result } from '../base/result.ts';
import { differenceFromSi, fromSi } from '../base/units.ts';
import type { Snapshot } from '../points/types.ts';
import { refrigerant } from '../refrigerant/refrigerants.ts';
import {
  type Books,
  curvedSpread,
  type OpenBooks,
  openBooks,
  type PreparedMachine,
  slopes,
  spreadOf,
  standardUncertainty,
} from './books.ts';
import { economizerRunning, standstill } from './inputs.ts';
import { operatingOf } from './learning/operating.ts';
import { vesselsOf } from './measured.ts';
import { CYCLE_METRICS } from './metrics/definitions.ts';
import type { CycleMetric } from './metrics/metric.ts';
import { type OneMore, oneMore } from './one-more.ts';
import type { ChillerParameters } from './parameters.ts';
import { propagated, randomShare } from './reconciliation/adjust.ts';
import { CompiledBalances } from './reconciliation/reconcile.ts';
import { influences, reconciliationOf } from './reconciliation/report.ts';
import { numberedStates } from './states.ts';
import { tablesOf } from './tables.ts';
import type { Solution } from './types.ts';
import { explainUnobservable, type Unobservable, unobservableMetrics } from './unobservable.ts';
import type { Vector } from './vector.ts';

/** Point lists for which the unobservable metrics are remembered. */
const REMEMBERED = 8;
const SHARE_DECIMALS = 4;
/** Share of a figure's variance from which on a doubtful point makes it doubtful too. */
const INFLUENCE = 0.05;

/** As `Reconciliation.suspects`: explanations, each a group that cannot be told apart. */
export type Suspects = readonly (readonly string[])[];

export interface Solver {
  /** `suspects`: what earlier intervals found to be off, in groups of which one is. */
  solve(snapshot: Snapshot, suspects?: Suspects): Solution;
  /** What these points can never give, with the reason and what would. Some hundred solutions: not for every minute. */
  outOfReach(mapped: readonly string[]): readonly Unobservable[];
  /** What each further sensor would bring to this interval; `uncertaintyOf`: what it would have, k = 1, SI. */
  oneMore(snapshot: Snapshot, uncertaintyOf: (point: string, value: number) => number): readonly OneMore[];
}

/** Once per chiller. Faults: `refrigerant_unknown`. */
export function prepare(parameters: ChillerParameters): Result<Solver> {
  const fluid = refrigerant(parameters.refrigerant);
  if (!fluid.ok) return fluid;
  const machine = {
    parameters,
    fluid: fluid.value,
    tables: tablesOf(parameters.arrangement, parameters.stages, vesselsOf(parameters)),
    balances: new CompiledBalances(),
  };
  const known = new Map<string, readonly string[]>();
  return ok({
    solve(snapshot, suspects = []) {
      const key = Object.keys(snapshot.points).sort().join(' ');
      let unobservable = known.get(key);
      if (unobservable === undefined) {
        unobservable = unobservableMetrics(machine, Object.keys(snapshot.points));
        if (known.size >= REMEMBERED) known.clear();
        known.set(key, unobservable);
      }
      return solveInterval(machine, snapshot, { unobservable, suspects });
    },
    oneMore: (snapshot, uncertaintyOf) => {
      const solve = (of: Snapshot) => solveInterval(machine, of, { unobservable: [], suspects: [] });
      return oneMore(machine, snapshot, { solve, uncertaintyOf });
    },
    outOfReach: (mapped) => explainUnobservable(machine, mapped),
  });
}

function solveInterval(
  machine: PreparedMachine,
  snapshot: Snapshot,
  { unobservable, suspects }: { readonly unobservable: readonly string[]; readonly suspects: Suspects },
): Solution {
  const stopped = standstill(snapshot, machine.parameters);
  // one group: whichever of it is off, the rest tells as much without it
  const distrusted = suspects.length === 1 ? (suspects[0] ?? []).slice(0, 1) : [];
  const books = openBooks(machine, snapshot, { uncertainty: true, running: stopped === null, distrusted });
  const { base } = books;
  const doubtful = suspects.length > 0 || Object.values(snapshot.points).some(({ quality }) => quality === 'uncertain');
  const doubted: Doubted = { books, snapshot, suspects: new Set(suspects.flat()), doubtful, slopes: new Map() };
  const metrics: Record<string, Figure> = {};
  for (const metric of CYCLE_METRICS) metrics[metric.name] = figure(doubted, metric, stopped);
  return {
    economizer: economizerRunning(snapshot, machine.parameters).economizer,
    states: stopped === null ? numberedStates(base, 'state') : {},
    ghost: stopped === null ? numberedStates(base, 'ghost') : {},
    metrics,
    reconciliation: reconciliationOf(books, snapshot, doubted.slopes),
    operating: stopped === null ? operatingOf(books.measured) : null,
    unobservable,
  };
}

const bad = (reason: string): Figure => ({ value: null, uncertainty: null, quality: 'bad', reason });

interface Doubted {
  readonly books: OpenBooks;
  readonly snapshot: Snapshot;
  readonly suspects: ReadonlySet<string>;
  /** Some point of this interval is of doubtful quality, or a suspect. */
  readonly doubtful: boolean;
  /** How each reconciled figure moves with each input, as far as it was found. */
  readonly slopes: Map<string, Vector>;
}

function figure(of: Doubted, metric: CycleMetric, stopped: string | null): Figure {
  const books = metric.asMeasured === true ? of.books.measured : of.books;
  if (stopped !== null && metric.whenStopped !== true) return bad(stopped);
  const value = books.base.entry(metric.name);
  if (typeof value !== 'number') return bad('missing' in value ? (value.missing as string) : 'no figure');
  const by = slopes(books, metric.name);
  if (by !== null && books === of.books) of.slopes.set(metric.name, by);
  const u = uncertaintyOf(books, metric, by);
  const sure = metric.onlyIfSure;
  if (sure !== undefined && !exceedsItsUncertainty(books, sure))
    return bad('what it would gain does not exceed its uncertainty');
  const reasons = doubts(of, books, metric.name, by);
  if (u === null) reasons.push('its uncertainty cannot be told: a small change of a point leaves no figure');
  return {
    value: fromSi(value, metric.unit),
    uncertainty: u === null || metric.unit === 'state' ? null : differenceFromSi(2 * u, metric.unit),
    ...(u === null || metric.summed !== true ? {} : newShare(books, by)),
    quality: reasons.length === 0 ? 'good' : 'uncertain',
    reason: reasons.length === 0 ? null : reasons.join('; '),
  };
}

/** Nothing where all of it lasts. */
function newShare({ causes, adjustment }: Books, by: Vector | null): Pick<Figure, 'random_share'> {
  if (by === null) return {};
  const share = Number(randomShare(propagated(by, causes, adjustment), causes).toFixed(SHARE_DECIMALS));
  return share > 0 ? { random_share: share } : {};
}

/** What is doubtful about the inputs that a figure is computed from, or about the way it is computed. */
function doubts(of: Doubted, books: Books, name: string, by: Vector | null): string[] {
  if (!of.doubtful) return [...books.base.doubtsOf(name)];
  const { books: open, snapshot, suspects } = of;
  const inputs = [...books.base.inputsOf(name)].map((input) => input.name);
  const reasons: string[] = [];
  for (const input of inputs) {
    const point = snapshot.points[input];
    if (point?.quality === 'uncertain') reasons.push(`${input}: ${point.reason ?? 'uncertain'}`);
  }
  reasons.push(
    ...misfit(
      [...new Set(inputs)].filter((input) => suspects.has(input)),
      suspects.size,
    ),
  );
  if (open.adjustment !== null && books === open && by !== null) reasons.push(...throughBalances(open, snapshot, by));
  return [...new Set([...reasons, ...books.base.doubtsOf(name)])];
}

/** Of the suspects, `all` in number, those that a figure leans on: one that is off, or some of which one is. */
function misfit(leantOn: readonly string[], all: number): string[] {
  const [first, ...more] = leantOn;
  if (first === undefined) return [];
  if (all === 1) return [`${first} does not fit the other sensors`];
  const others = more.length === 0 ? '' : ` and ${more.length} more`;
  return [`it leans on ${first}${others} of ${all} sensors that contradict each other`];
}

/** Points of doubtful quality that the balances let a good part of a figure's uncertainty come from. */
function throughBalances(books: OpenBooks, snapshot: Snapshot, by: Vector): string[] {
  return [...influences(books, by)]
    .filter(([input, share]) => share > INFLUENCE && snapshot.points[input]?.quality === 'uncertain')
    .map(([input]) => `${input}: ${snapshot.points[input]?.reason ?? 'uncertain'}`);
}

/** Standard uncertainty (k = 1, SI) of a metric that moves by `by` with each input; null where it cannot be told. */
export function uncertaintyOf(books: Books, metric: CycleMetric, by: Vector | null): number | null {
  const u = spreadOf(books, by);
  const { curved, name } = metric;
  if (u === null || by === null || curved === undefined || u === 0) return u;
  if (curved !== true && !books.base.dependsOn(name, books.leaf.interval.inputIndex.get(curved) as number)) return u;
  return curvedSpread(books, name, by, u);
}

function exceedsItsUncertainty(books: Books, name: string): boolean {
  const value = books.base.entry(name);
  const u = standardUncertainty(books, name);
  return typeof value === 'number' && u !== null && value > 2 * u;
}
