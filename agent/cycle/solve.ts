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
import { type Books, openBooks, type PreparedMachine, standardUncertainty } from './books.ts';
import { economizerRunning, standstill } from './inputs.ts';
import { CYCLE_METRICS } from './metrics/definitions.ts';
import type { CycleMetric } from './metrics/metric.ts';
import type { ChillerParameters } from './parameters.ts';
import { numberedStates } from './states.ts';
import { tablesOf } from './tables.ts';
import type { Solution } from './types.ts';
import { explainUnobservable, type Unobservable, unobservableMetrics } from './unobservable.ts';

/** Point lists for which the unobservable metrics are remembered. */
const REMEMBERED = 8;

export interface Solver {
  solve(snapshot: Snapshot): Solution;
  /** What these points can never give, with the reason and what would. Some hundred solutions: not for every minute. */
  outOfReach(mapped: readonly string[]): readonly Unobservable[];
}

/** Once per chiller. Faults: `refrigerant_unknown`. */
export function prepare(parameters: ChillerParameters): Result<Solver> {
  const fluid = refrigerant(parameters.refrigerant);
  if (!fluid.ok) return fluid;
  const machine = { parameters, fluid: fluid.value, tables: tablesOf(parameters.arrangement) };
  const known = new Map<string, readonly string[]>();
  return ok({
    solve(snapshot) {
      const key = Object.keys(snapshot.points).sort().join(' ');
      let unobservable = known.get(key);
      if (unobservable === undefined) {
        unobservable = unobservableMetrics(machine, Object.keys(snapshot.points));
        if (known.size >= REMEMBERED) known.clear();
        known.set(key, unobservable);
      }
      return solveInterval(machine, snapshot, unobservable);
    },
    outOfReach: (mapped) => explainUnobservable(machine, mapped),
  });
}

function solveInterval(machine: PreparedMachine, snapshot: Snapshot, unobservable: readonly string[]): Solution {
  const books = openBooks(machine, snapshot, { uncertainty: true });
  const { base } = books;
  const stopped = standstill(snapshot, machine.parameters);
  const metrics: Record<string, Figure> = {};
  for (const metric of CYCLE_METRICS) metrics[metric.name] = figure(books, snapshot, metric, stopped);
  return {
    economizer: economizerRunning(snapshot, machine.parameters).economizer,
    states: stopped === null ? numberedStates(base, 'state') : {},
    ghost: stopped === null ? numberedStates(base, 'ghost') : {},
    metrics,
    unobservable,
  };
}

const bad = (reason: string): Figure => ({ value: null, uncertainty: null, quality: 'bad', reason });

function figure(books: Books, snapshot: Snapshot, metric: CycleMetric, stopped: string | null): Figure {
  if (stopped !== null && metric.whenStopped !== true) return bad(stopped);
  const value = books.base.entry(metric.name);
  if (typeof value !== 'number') return bad('missing' in value ? (value.missing as string) : 'no figure');
  const u = standardUncertainty(books, metric.name);
  const sure = metric.onlyIfSure;
  if (sure !== undefined && !exceedsItsUncertainty(books, sure))
    return bad('what it would gain does not exceed its uncertainty');
  const reasons = books.base
    .inputsOf(metric.name)
    .filter((input) => snapshot.points[input.name]?.quality === 'uncertain')
    .map((input) => `${input.name}: ${snapshot.points[input.name]?.reason ?? 'uncertain'}`);
  reasons.push(...books.base.doubtsOf(metric.name));
  if (u === null) reasons.push('its uncertainty cannot be told: a small change of a point leaves no figure');
  return {
    value: fromSi(value, metric.unit),
    uncertainty: u === null || metric.unit === 'state' ? null : differenceFromSi(2 * u, metric.unit),
    quality: reasons.length === 0 ? 'good' : 'uncertain',
    reason: reasons.length === 0 ? null : reasons.join('; '),
  };
}

function exceedsItsUncertainty(books: Books, name: string): boolean {
  const value = books.base.entry(name);
  const u = standardUncertainty(books, name);
  return typeof value === 'number' && u !== null && value > 2 * u;
}
