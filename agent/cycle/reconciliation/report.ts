/** The reconciliation of one interval as the outside sees it. */
import type { Snapshot } from '../../points/types.ts';
import type { Books, OpenBooks } from '../books.ts';
import { pointOf } from '../measured.ts';
import type { BalanceFigure, ReconciledPoint, Reconciliation } from '../types.ts';
import { type Vector, zeros } from '../vector.ts';
import { dot, propagated } from './adjust.ts';
import type { Balanced } from './reconcile.ts';
import { LEAST_SHARE } from './suspects.ts';

/** How each reconciled metric moves with each input, and the points that the others could replace. */
interface Found {
  readonly slopes: ReadonlyMap<string, Vector>;
  readonly redundant: ReadonlySet<string>;
}

/** Of a metric's variance: what an input contributes that it could do without. */
const NEGLIGIBLE = 1e-4;

/** `slopes`: of each metric computed from reconciled inputs, by name. */
export function reconciliationOf(
  books: OpenBooks,
  snapshot: Snapshot,
  slopes: ReadonlyMap<string, Vector>,
): Reconciliation {
  const { verdict, balanced } = books;
  const problem = balanced !== null && 'problem' in balanced ? balanced.problem : null;
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
    points: pointsOf(books, snapshot, { slopes, redundant }),
    redundant: redundantMetrics(books, snapshot, { slopes, redundant }),
    balances: balanced === null || 'problem' in balanced ? [] : balancesOf(balanced),
    problem,
  };
}

function pointsOf(
  { leaf: { interval }, causes, adjustment, measured, verdict }: OpenBooks,
  snapshot: Snapshot,
  { slopes, redundant }: Found,
): Record<string, ReconciledPoint> {
  const points: Record<string, ReconciledPoint> = {};
  const used = zeros(interval.inputs.length);
  for (const by of slopes.values()) for (let at = 0; at < used.length; at++) if (by[at] !== 0) used[at] = 1;
  interval.inputs.forEach((input, at) => {
    if (snapshot.points[input.name] === undefined || input.reason !== null || !(input.u > 0)) return;
    if (used[at] === 0 && verdict?.corrections[input.name] === undefined) return;
    const own = zeros(interval.inputs.length);
    own[at] = 1;
    const kept = propagated(own, causes, adjustment);
    const before = measured.leaf.interval.inputs[at]?.u ?? input.u;
    const z = verdict?.corrections[input.name];
    const share = verdict?.checked[input.name] ?? 0;
    points[input.name] = {
      measured: measured.leaf.interval.inputs[at]?.value ?? input.value,
      value: input.value,
      before,
      after: Math.sqrt(dot(kept, kept)),
      random: input.random,
      redundant: redundant.has(input.name),
      off: z === undefined ? null : { value: (-z / share) * before, u: before / share },
    };
  });
  return points;
}

/** Metrics every sensor of which, as far as it matters to them, is one that the others could replace. */
function redundantMetrics(
  { leaf: { interval }, verdict }: OpenBooks,
  snapshot: Snapshot,
  { slopes, redundant }: { readonly slopes: ReadonlyMap<string, Vector>; readonly redundant: ReadonlySet<string> },
): string[] {
  if (verdict === null) return [];
  const { inputs } = interval;
  const alone = inputs.map(({ name }) => snapshot.points[pointOf(name)] !== undefined && !redundant.has(name));
  const names: string[] = [];
  for (const [name, by] of slopes) {
    let [sum, most] = [0, 0];
    for (let at = 0; at < inputs.length; at++) {
      const part = ((by[at] as number) * (inputs[at] as { u: number }).u) ** 2;
      sum += part;
      if (alone[at] === true && part > most) most = part;
    }
    if (sum > 0 && most < NEGLIGIBLE * sum) names.push(name);
  }
  return names;
}

/** Share of each input in the variance of what moves by `by`, once the balances are weighed; by name. */
export function influences({ leaf, causes, adjustment }: Books, by: Vector): Map<string, number> {
  const found = new Map<string, number>();
  const kept = propagated(by, causes, adjustment);
  const sum = dot(kept, kept);
  causes.input.forEach((input, k) => {
    const label = leaf.interval.inputs[input]?.name as string;
    const part = (kept[causes.cause[k] as number] as number) ** 2;
    if (sum > 0) found.set(label, (found.get(label) ?? 0) + part / sum);
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
