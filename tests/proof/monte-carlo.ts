/**
 * Stated uncertainties against a Monte Carlo by JCGM 101: every point and assumption is drawn, the interval is solved
 * and reconciled as the agent does it, and the spread of each metric stands beside what the agent states at the true
 * values; coverage is the share of draws whose own interval of 1.96 standard uncertainties holds the true value.
 *
 * node agent/launch.cjs --node tests/proof/monte-carlo.ts [--set A] [--draws 100000] [--seed 20261127]
 */
import { parseArgs } from 'node:util';
import { openBooks, slopes, standardUncertainty } from '../../agent/cycle/books.ts';
import { CYCLE_METRICS } from '../../agent/cycle/metrics/definitions.ts';
import { uncertaintyOf } from '../../agent/cycle/solve.ts';
import { consistent, drawn, normal, only, prepared, SETS, snapshotOf } from './consistent.ts';

export interface Compared {
  readonly metric: string;
  /** Stated standard uncertainty over the spread of the draws. */
  readonly ratio: number;
  /** Share of the draws whose 95 % interval holds the truth. */
  readonly coverage: number;
  /** Mean of the draws less the truth, in spreads. */
  readonly shift: number;
}

/** Metrics that some draws do not have are at the edge of their range: no comparison. */
export function compare(set: readonly string[], draws: number, seed: number): Compared[] {
  const truth = consistent();
  const mine = { points: only(truth.points, set), parameters: truth.parameters };
  const at = openBooks(prepared(truth.parameters), snapshotOf(mine.points), { uncertainty: true });
  const machine = prepared(truth.parameters);
  const next = normal(seed);
  const metrics = CYCLE_METRICS.filter(({ unit }) => unit !== 'state').filter(({ name, asMeasured }) => {
    const u = standardUncertainty(asMeasured === true ? at.measured : at, name);
    return u !== null && u > 0;
  });
  const sums = metrics.map(() => ({ n: 0, mean: 0, square: 0, held: 0 }));
  const real = metrics.map(({ name }) => at.base.entry(name) as number);
  for (let count = 0; count < draws; count++) {
    const { points, parameters } = drawn(mine, next);
    const books = openBooks({ ...machine, parameters }, snapshotOf(points), { uncertainty: true });
    metrics.forEach((metric, k) => {
      const of = metric.asMeasured === true ? books.measured : books;
      const value = of.base.entry(metric.name);
      if (typeof value !== 'number') return;
      const sum = sums[k] as (typeof sums)[number];
      const off = value - (real[k] as number);
      sum.n += 1;
      const away = off - sum.mean;
      sum.mean += away / sum.n;
      sum.square += away * (off - sum.mean);
      const u = uncertaintyOf(of, metric, slopes(of, metric.name));
      if (u !== null && Math.abs(off) <= 1.96 * u) sum.held += 1;
    });
  }
  return metrics.flatMap((metric, k): Compared[] => {
    const { n, mean, square, held } = sums[k] as (typeof sums)[number];
    if (n < draws) return [];
    const spread = Math.sqrt(square / (n - 1));
    const of = metric.asMeasured === true ? at.measured : at;
    const stated = uncertaintyOf(of, metric, slopes(of, metric.name)) as number;
    return [{ metric: metric.name, ratio: stated / spread, coverage: held / draws, shift: mean / spread }];
  });
}

if (import.meta.main) {
  const { values } = parseArgs({
    options: { set: { type: 'string' }, draws: { type: 'string' }, seed: { type: 'string' }, all: { type: 'boolean' } },
  });
  for (const [name, set] of Object.entries(SETS)) {
    if (values.set !== undefined && values.set !== name) continue;
    const found = compare(set, Number(values.draws ?? 100_000), Number(values.seed ?? 20261127));
    const ratios = found.map(({ ratio }) => ratio).sort((a, b) => a - b);
    const held = found.map(({ coverage }) => coverage).sort((a, b) => a - b);
    const within = found.filter(({ ratio }) => Math.abs(ratio - 1) <= 0.03).length;
    const covered = found.filter(({ coverage }) => coverage >= 0.94 && coverage <= 0.96).length;
    const range = (of: number[], digits: number): string =>
      `${of[0]?.toFixed(digits)} to ${of[of.length - 1]?.toFixed(digits)}`;
    process.stdout.write(
      `${name}: ${set.length} points, ${found.length} metrics; stated/spread ${range(ratios, 3)}, within 3 %: ${within}; ` +
        `coverage ${range(held, 4)}, within 94 to 96 %: ${covered}\n`,
    );
    for (const { metric, ratio, coverage, shift } of found) {
      const odd = Math.abs(ratio - 1) > 0.03 || coverage < 0.94 || coverage > 0.96;
      if (odd || values.all === true)
        process.stdout.write(
          `  ${metric.padEnd(48)} stated/spread ${ratio.toFixed(3)}  coverage ${(100 * coverage).toFixed(2)} %  mean shift ${shift.toFixed(2)} spreads\n`,
        );
    }
  }
}
