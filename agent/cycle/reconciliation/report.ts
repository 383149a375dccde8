/** The reconciliation of one interval as the outside sees it. */
import type { Snapshot } from '../../points/types.ts';
import { type Books, type OpenBooks, slopes } from '../books.ts';
import { CYCLE_METRICS } from '../metrics/definitions.ts';
import type { BalanceFigure, ReconciledPoint, Reconciliation } from '../types.ts';
import { dot, propagated } from './adjust.ts';
import type { Balanced } from './reconcile.ts';
import { LEAST_SHARE } from './suspects.ts';

/** Of a metric's variance: what an input contributes that it could do without. */
const NEGLIGIBLE = 1e-4;

export function reconciliationOf(books: OpenBooks, snapshot: Snapshot): Reconciliation {
  const { verdict, balanced } = books;
  const problem = typeof balanced === 'string' ? balanced : null;
  const redundant = new Set(
    Object.entries(verdict?.checked ?? {})
      .filter(([, share]) => share >= LEAST_SHARE)
      .map(([name]) => name),
  );
  return {
    chi_square: verdict?.chi_square ?? null,
    corrections: verdict?.corrections ?? {},
    suspects: verdict?.suspects ?? [],
    groups: verdict?.groups ?? [],
    points: pointsOf(books, snapshot, redundant),
    redundant: redundantMetrics(books, snapshot, redundant),
    balances: balanced === null || typeof balanced === 'string' ? [] : balancesOf(balanced),
    problem,
  };
}

function pointsOf(
  { interval, causes, adjustment, measured }: OpenBooks,
  snapshot: Snapshot,
  redundant: ReadonlySet<string>,
): Record<string, ReconciledPoint> {
  const points: Record<string, ReconciledPoint> = {};
  interval.inputs.forEach((input, at) => {
    if (snapshot.points[input.name] === undefined || input.reason !== null || !(input.u > 0)) return;
    const own = new Float64Array(interval.inputs.length);
    own[at] = 1;
    const kept = propagated(own, causes, adjustment);
    points[input.name] = {
      value: input.value,
      before: measured.interval.inputs[at]?.u ?? input.u,
      after: Math.sqrt(dot(kept, kept)),
      redundant: redundant.has(input.name),
    };
  });
  return points;
}

/** Every sensor that matters to the metric is one that the others could replace. */
function redundantMetrics(books: OpenBooks, snapshot: Snapshot, redundant: ReadonlySet<string>): string[] {
  if (books.verdict === null) return [];
  return CYCLE_METRICS.filter(({ name, asMeasured }) => {
    const shares = asMeasured === true ? null : contributions(books, name);
    if (shares === null || shares.every((share) => share === 0)) return false;
    return books.interval.inputs.every(
      (input, at) =>
        (shares[at] as number) < NEGLIGIBLE || snapshot.points[input.name] === undefined || redundant.has(input.name),
    );
  }).map(({ name }) => name);
}

/** What each input by itself adds to the variance of a metric as it is computed, of the sum; null: no figure. */
export function contributions(books: Books, name: string): Float64Array | null {
  const by = slopes(books, name);
  if (by === null) return null;
  const parts = by.map((slope, at) => (slope * (books.interval.inputs[at]?.u ?? 0)) ** 2);
  const sum = parts.reduce((all, part) => all + part, 0);
  return sum > 0 ? parts.map((part) => part / sum) : parts;
}

/** Share of each input in the variance of a metric once the balances are weighed, by name; own causes alone. */
export function influences(books: Books, name: string): Map<string, number> {
  const by = slopes(books, name);
  const found = new Map<string, number>();
  if (by === null) return found;
  const kept = propagated(by, books.causes, books.adjustment);
  const sum = dot(kept, kept);
  books.causes.forEach((cause, c) => {
    for (const [input] of cause) {
      const label = books.interval.inputs[input]?.name as string;
      if (sum > 0) found.set(label, (found.get(label) ?? 0) + (kept[c] as number) ** 2 / sum);
    }
  });
  return found;
}

function balancesOf({ equations, before, after }: Balanced): BalanceFigure[] {
  const units = { mass: 'kg/s', energy: 'W', ratio: '1' } as const;
  const [was, is] = [equations.unscaled(before), equations.unscaled(after)];
  return equations.relations.map(({ name, kind }, row) => ({
    name,
    unit: units[kind],
    before: was[row] as number,
    after: is[row] as number,
  }));
}
