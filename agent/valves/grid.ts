/**
 * From samples as they came to an even grid. A gateway between agent and controller may refresh its values only every
 * 10 to 60 s: the interval between new values is learnt from the values, not from the polling.
 */
import type { FastColumns } from '../points/fast-window.ts';
import { median, quantile } from './statistics.ts';

/** Even samples: value i stands at `start + i * step` (ms). */
export interface Grid {
  readonly start: number;
  readonly step: number;
  readonly length: number;
}

/**
 * Interval between new values, ms: the usual spacing of the samples, or, where values stand still for several samples
 * and always about as long, that time. Null for fewer than three samples.
 */
export function updateInterval({ times, values }: FastColumns): number | null {
  const n = times.length;
  if (n < 3) return null;
  const gaps: number[] = [];
  for (let i = 1; i < n; i++) gaps.push((times[i] as number) - (times[i - 1] as number));
  const spacing = median(gaps);
  const runs: number[] = [];
  let changed = Number.NaN;
  for (let i = 1; i < n; i++) {
    if (values[i] === values[i - 1]) continue;
    const at = times[i] as number;
    if (!Number.isNaN(changed)) runs.push(at - changed);
    changed = at;
  }
  if (runs.length < 5) return spacing;
  const short = quantile(runs, 0.1);
  const typical = median(runs);
  // A coarse signal also stands still, but for times as long as it happens to take to the next step.
  const even = typical - short <= 1.2 * spacing && quantile(runs, 0.75) - typical <= 1.2 * spacing;
  return even && short >= 1.8 * spacing ? typical : spacing;
}

/** The stretch from `from` (inclusive) to `to` (exclusive), as views. */
export function stretch({ times, values }: FastColumns, from: number, to: number): FastColumns {
  return { times: times.subarray(from, to), values: values.subarray(from, to) };
}

/** Finite pairs in ascending order of time; a sample that is not later than the one before is left out. */
export function cleaned({ times, values }: FastColumns): FastColumns {
  const keep: number[] = [];
  let newest = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < times.length; i++) {
    const time = times[i] as number;
    if (!(time > newest) || !Number.isFinite(values[i])) continue;
    newest = time;
    keep.push(i);
  }
  if (keep.length === times.length) return { times, values };
  return {
    times: Float64Array.from(keep, (i) => times[i] as number),
    values: Float64Array.from(keep, (i) => values[i] as number),
  };
}

/** Indices of the samples that come after a hole longer than `longest` ms. */
export function holesOf({ times }: FastColumns, longest: number): number[] {
  const found: number[] = [];
  for (let i = 1; i < times.length; i++) if ((times[i] as number) - (times[i - 1] as number) > longest) found.push(i);
  return found;
}

export function gridOver({ times }: FastColumns, step: number): Grid {
  const start = times[0] as number;
  const length = Math.floor(((times[times.length - 1] as number) - start) / step + 1e-9) + 1;
  return { start, step, length };
}

/**
 * Values on the grid: the mean of each cell that holds several samples, else interpolated between neighbours (`line`)
 * or held from the last one (`hold`: what a command or set point is between its samples). Null without samples.
 */
export function onGrid(columns: FastColumns, grid: Grid, between: 'line' | 'hold'): Float64Array | null {
  const { times, values } = columns;
  const n = times.length;
  if (n === 0) return null;
  const { start, step, length } = grid;
  const out = new Float64Array(length);
  let [next, low] = [0, 0];
  for (let i = 0; i < length; i++) {
    const at = start + i * step;
    while (low < n && (times[low] as number) < at - step / 2) low++;
    let [end, sum] = [low, 0];
    while (end < n && (times[end] as number) < at + step / 2) sum += values[end++] as number;
    if (end - low >= 2) {
      out[i] = sum / (end - low);
      continue;
    }
    while (next < n && (times[next] as number) <= at) next++;
    const [before, after] = [Math.max(0, next - 1), Math.min(n - 1, next)];
    const [t0, t1] = [times[before] as number, times[after] as number];
    const share = between === 'hold' || t1 <= t0 ? 0 : Math.min(1, Math.max(0, (at - t0) / (t1 - t0)));
    out[i] = (values[before] as number) * (1 - share) + (values[after] as number) * share;
  }
  return out;
}
