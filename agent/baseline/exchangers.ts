/**
 * Clean heat exchangers of the declared period: conductance at like duty and flow, subcooling at like load. Straight
 * lines through the hours, for within the range of one machine neither bends much; beyond the fitted range nothing is
 * said. A scatter above a tenth of the mean is no baseline (common practice, no source).
 */
import { LIMITS } from '../base/limits.ts';
import { dot, linearLeastSquares, quadratic, type Rows } from './least-squares.ts';

export const EXCHANGER_SCATTER_MAX = 0.1;
/** Share of its width by which a fitted range may be left. */
const MARGIN = 0.05;

export interface Line {
  /** Constant first. */
  readonly parameters: readonly number[];
  readonly covariance: Rows;
  readonly scatter: number;
  readonly range: readonly (readonly [number, number])[];
  readonly hours: number;
}

export interface Sample {
  readonly value: number;
  readonly asked: readonly number[];
}

/** Null where the hours are too few or too scattered; what does not vary is left to the constant. */
export function fitLine(samples: readonly Sample[]): Line | null {
  if (samples.length < LIMITS.baseline_hours_min) return null;
  const solved = linearLeastSquares(
    samples.map(({ asked }) => [1, ...asked]),
    samples.map(({ value }) => value),
  );
  if (solved === null) return null;
  const variance = dot(solved.residuals, solved.residuals) / solved.freedom;
  const mean = samples.reduce((sum, { value }) => sum + value, 0) / samples.length;
  if (!(Math.sqrt(variance) <= EXCHANGER_SCATTER_MAX * mean)) return null;
  const [first] = samples;
  return {
    parameters: solved.parameters,
    covariance: solved.inverse.map((row) => row.map((value) => value * variance)),
    scatter: Math.sqrt(variance),
    range: (first?.asked ?? []).map((_, k) => ends(samples.map(({ asked }) => asked[k] as number))),
    hours: samples.length,
  };
}

function ends(values: readonly number[]): [number, number] {
  return values.reduce<[number, number]>(
    ([least, most], value) => [Math.min(least, value), Math.max(most, value)],
    [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY],
  );
}

/** The clean value with its uncertainty (k = 2: of the line and of one hour about it); null beyond the range. */
export function onLine(
  line: Line,
  asked: readonly number[],
): { readonly value: number; readonly interval: number } | null {
  const fits = line.range.every(([least, most], k) => {
    const margin = MARGIN * (most - least);
    const value = asked[k] ?? Number.NaN;
    return value >= least - margin && value <= most + margin;
  });
  if (!fits) return null;
  const slope = [1, ...asked];
  return {
    value: dot(line.parameters, slope),
    interval: 2 * Math.sqrt(quadratic(line.covariance, slope) + line.scatter ** 2),
  };
}
