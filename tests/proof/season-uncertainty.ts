/**
 * A season's uncertainty against a Monte Carlo by JCGM 101: seasons of the emulated plant in which every sensor is
 * wrong by one and the same error all through and by a new one at each reading, and every assumption by one. Readings
 * go the agent's own way: samples, minute, solution with reconciliation, stored record, sums. Coverage: share of the
 * seasons whose interval of 1.96 standard uncertainties holds what the same minutes sum to when nothing errs. Beside it
 * how far that is from the plant's own books, in the standard uncertainties stated; and what would be stated if the
 * whole of each minute's uncertainty counted as lasting.
 *
 * node agent/launch.cjs --node tests/proof/season-uncertainty.ts [--seasons 2000] [--minutes 60] [--seed 1]
 * [--case NAME]
 */
import { parseArgs } from 'node:util';
import { CASES, type Case, FIGURES, Seasons } from './drawn-season.ts';

export interface Covered {
  readonly figure: (typeof FIGURES)[number];
  /** Mean stated standard uncertainty over the standard deviation of the seasons' errors. */
  readonly ratio: number;
  /** The same if all of it counted as lasting. */
  readonly whole: number;
  readonly coverage: number;
  /** The plant's books less what the agent finds when nothing errs, in standard uncertainties. */
  readonly off: number;
  /** Stated standard uncertainty, relative. */
  readonly u: number;
}

export async function covered(
  of: Case,
  options: { readonly seasons: number; readonly minutes: number; readonly seed: number },
) {
  const seasons = await Seasons.open(of, options);
  const [exact, books] = [seasons.exact(), seasons.books];
  const found = Array.from({ length: options.seasons }, () => seasons.drawn());
  return FIGURES.map((figure): Covered => {
    const truth = exact.figure[figure] as number;
    const errors = found.map((each) => (each.figure[figure] as number) - truth);
    const stated = found.map((each) => (each.figure.uncertainty[figure] as number) / 2);
    const lasting = found.map((each) => (each.whole.uncertainty[figure] as number) / 2);
    const mean = (of_: readonly number[]): number => of_.reduce((sum, each) => sum + each, 0) / of_.length;
    const spread = Math.sqrt(mean(errors.map((e) => (e - mean(errors)) ** 2)));
    const held = errors.filter((e, i) => Math.abs(e) <= 1.96 * (stated[i] as number)).length;
    return {
      figure,
      ratio: mean(stated) / spread,
      whole: mean(lasting) / spread,
      coverage: held / errors.length,
      off: ((books[figure] as number) - truth) / mean(stated),
      u: mean(stated) / truth,
    };
  });
}

if (import.meta.main) {
  const { values } = parseArgs({
    options: {
      seasons: { type: 'string', default: '2000' },
      minutes: { type: 'string', default: '60' },
      seed: { type: 'string', default: '1' },
      case: { type: 'string' },
    },
  });
  const [count, minutes, seed] = [values.seasons, values.minutes, values.seed].map(Number) as [number, number, number];
  const percent = (share: number): string => `${(100 * share).toFixed(2)} %`;
  for (const [name, of] of Object.entries(CASES)) {
    if (values.case !== undefined && values.case !== name) continue;
    process.stdout.write(`${name}: ${of.points.length} points\n`);
    for (const { figure, ratio, whole, coverage, off, u } of await covered(of, { seasons: count, minutes, seed }))
      process.stdout.write(
        `  ${figure.padEnd(10)} u ${percent(u)}  stated/spread ${ratio.toFixed(3)} (${whole.toFixed(3)})` +
          `  coverage ${percent(coverage)}` +
          `  plant's books ${off.toFixed(2)} u away\n`,
      );
  }
}
