/**
 * Does the measured value answer the output? Where a process follows its valve at once (a flow), the slow movements of
 * both go together. A valve that stands leaves an error of one sign for long, on which the output moves away alone.
 */
import { RULES } from './rules.ts';
import { mean, movingMean, noiseOf, rms, spread } from './statistics.ts';

export interface Answer {
  /** Correlation of the slow movements of output and measured value, without sign. */
  readonly together: number;
  /** Part of the error (root mean square) that lasts for blocks of `BLOCK` samples. */
  readonly lasting: number;
}

const SMOOTH = 10;
const BLOCK = 30;

/** Null where the output moves by no more than its own noise, or there is no block to speak of. */
export function answerOf({
  output,
  measured,
  setpoint,
}: Readonly<Record<'output' | 'measured' | 'setpoint', Float64Array>>): Answer | null {
  const n = measured.length;
  if (n < 4 * BLOCK) return null;
  const [asked, given] = [movingMean(output, SMOOTH), movingMean(measured, SMOOTH)];
  if (rangeOf(asked) <= 5 * noiseOf(output)) return null;
  const error = measured.map((value, i) => (setpoint[i] as number) - value);
  const blocks: number[] = [];
  for (let from = 0; from + BLOCK <= n; from += BLOCK) blocks.push(mean(error.subarray(from, from + BLOCK)));
  const all = rms(error);
  return { together: Math.abs(correlation(asked, given)), lasting: all === 0 ? 0 : rms(blocks) / all };
}

function rangeOf(values: Float64Array): number {
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of values) [least, most] = [Math.min(least, value), Math.max(most, value)];
  return most - least;
}

function correlation(a: Float64Array, b: Float64Array): number {
  const [ma, mb] = [mean(a), mean(b)];
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += ((a[i] as number) - ma) * ((b[i] as number) - mb);
  const scale = spread(a) * spread(b) * (a.length - 1);
  return scale > 0 ? sum / scale : 0;
}

/** 0.43 for a value that answers fully, 1 for one that does not; at most 0.5 where no error lasts. */
export function answerScore({ together, lasting }: Answer): number {
  const score = 1 - (together * (1 - RULES.sticking)) / RULES.answers;
  return lasting >= RULES.lasting ? score : Math.min(score, 0.5);
}
