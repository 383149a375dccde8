/**
 * Autocorrelation, and what is read from it: regularity of its zero crossings (Thornhill, Huang & Zhang 2003,
 * J. Process Control 13, 91-100) and its decay ratio (Miao & Seborg 1999, IEEE Conf. Control Applications, 359-364).
 * Both from memory.
 */
import { RULES } from './rules.ts';
import { mean, spread } from './statistics.ts';

/**
 * Lags 0 to `last`, each divided by the energy of the two stretches it compares: 1 at lag 0, within -1 to 1, and not
 * smaller for long lags because fewer pairs are left.
 */
export function autocorrelation(values: Float64Array, last: number): Float64Array {
  const n = values.length;
  const middle = mean(values);
  const x = values.map((value) => value - middle);
  const energy = new Float64Array(n + 1);
  for (let i = 0; i < n; i++) energy[i + 1] = (energy[i] as number) + (x[i] as number) ** 2;
  const total = energy[n] as number;
  const out = new Float64Array(Math.min(last, n - 2) + 1);
  for (let lag = 0; lag < out.length; lag++) {
    let sum = 0;
    for (let i = lag; i < n; i++) sum += (x[i] as number) * (x[i - lag] as number);
    const both = (energy[n - lag] as number) * (total - (energy[lag] as number));
    out[lag] = both > 0 ? sum / Math.sqrt(both) : 0;
  }
  return out;
}

/** Where the sequence changes sign, in samples, by the line between neighbours. */
export function zeroCrossings(values: Float64Array, most: number): number[] {
  const found: number[] = [];
  for (let i = 1; i < values.length && found.length < most; i++) {
    const [a, b] = [values[i - 1] as number, values[i] as number];
    if ((a > 0 && b <= 0) || (a < 0 && b >= 0)) found.push(i - 1 + a / (a - b));
  }
  return found;
}

export interface Regularity {
  /** Mean period, samples. */
  readonly period: number;
  /** Standard deviation of the periods that single intervals stand for, samples. */
  readonly scatter: number;
  readonly intervals: number;
  /** r = mean / (3 x standard deviation); infinite for a perfect sine. */
  readonly r: number;
}

/** Null where the autocorrelation crosses zero fewer than `RULES.crossings_least` times. */
export function regularity(acf: Float64Array): Regularity | null {
  const crossings = zeroCrossings(acf, RULES.crossings);
  if (crossings.length < RULES.crossings_least) return null;
  const periods = crossings.slice(1).map((at, i) => 2 * (at - (crossings[i] as number)));
  const period = mean(periods);
  const scatter = spread(periods);
  return {
    period,
    scatter,
    intervals: periods.length,
    r: scatter === 0 ? Number.POSITIVE_INFINITY : period / scatter / 3,
  };
}

interface Extreme {
  readonly at: number;
  readonly value: number;
}

/** Vertex of the parabola through the extreme sample and its neighbours. */
function extreme(acf: Float64Array, from: number, to: number, sign: 1 | -1): Extreme | null {
  let best = -1;
  for (let i = Math.ceil(from); i <= Math.min(to, acf.length - 1); i++)
    if (best < 0 || sign * (acf[i] as number) > sign * (acf[best] as number)) best = i;
  if (best < 0) return null;
  const middle = acf[best] as number;
  const [before, after] = [acf[best - 1], acf[best + 1]];
  if (before === undefined || after === undefined) return { at: best, value: middle };
  const bend = before - 2 * middle + after;
  const shift = bend === 0 ? 0 : Math.max(-0.5, Math.min(0.5, (before - after) / (2 * bend)));
  return { at: best + shift, value: middle - ((before - after) * shift) / 4 };
}

function above(point: Extreme, a: Extreme, b: Extreme): number {
  const share = b.at === a.at ? 0 : (point.at - a.at) / (b.at - a.at);
  return point.value - (a.value + share * (b.value - a.value));
}

/**
 * R = a / b: a, the height of the first peak over the line joining the minima beside it; b, the depth of the first
 * minimum below the line joining lag 0 and the first peak. 1 for an undamped sine, 0 where there is no second swing.
 */
export function decayRatio(acf: Float64Array): number {
  const [c1, c2, c3, c4] = zeroCrossings(acf, 4);
  if (c1 === undefined || c2 === undefined || c3 === undefined) return 0;
  const first = extreme(acf, c1, c2, -1);
  const peak = extreme(acf, c2, c3, 1);
  const second = extreme(acf, c3, c4 ?? c3 + (c3 - c2), -1);
  if (first === null || peak === null || second === null) return 0;
  const a = above(peak, first, second);
  const b = -above(first, { at: 0, value: acf[0] as number }, peak);
  return b > 0 ? Math.max(0, a / b) : 0;
}
