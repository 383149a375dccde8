/**
 * The last hours of the fast points (levels, valves, vanes) in columns of time and SI value, for the level strips and
 * the search for hunting. A missing reading is missing from the columns: the gap shows in the times. Bounded by
 * `fast_window_samples_max` per point.
 */
import { LIMITS } from '../base/limits.ts';
import { type Atmosphere, convert } from './convert.ts';
import type { PointName } from './dictionary.ts';
import type { PointSamples } from './samples.ts';
import type { PointSpec } from './types.ts';

/** Equal lengths, times ascending in ms since the epoch. */
export interface FastColumns {
  readonly times: Float64Array;
  readonly values: Float64Array;
}

export interface FastWindow {
  /**
   * Appends an interval's samples of every fast point, converted to SI; times not after the newest kept one are
   * ignored.
   */
  append(intervals: ReadonlyMap<PointName, PointSamples>, atmosphere: Atmosphere): void;
  /** Appends one sample of a fast point, SI: what was kept of it before a restart. */
  put(point: PointName, time: number, value: number): void;
  /** A copy of the point's columns from `from` (ms, exclusive) on. Empty where the point is not fast. */
  columns(point: PointName, from?: number): FastColumns;
  readonly points: readonly PointName[];
}

interface Column {
  readonly spec: PointSpec;
  times: Float64Array;
  values: Float64Array;
  start: number;
  count: number;
}

const FIRST_CAPACITY = 256;

export function fastWindow(
  specs: readonly PointSpec[],
  samples_max: number = LIMITS.fast_window_samples_max,
): FastWindow {
  const capacity = Math.min(FIRST_CAPACITY, samples_max);
  const columns = new Map<PointName, Column>();
  for (const spec of specs) {
    if (!spec.fast) continue;
    const [times, values] = [new Float64Array(capacity), new Float64Array(capacity)];
    columns.set(spec.name, { spec, times, values, start: 0, count: 0 });
  }
  return {
    points: [...columns.keys()],
    append(intervals, atmosphere) {
      for (const [point, column] of columns) {
        const samples = intervals.get(point);
        if (samples === undefined) continue;
        for (let i = 0; i < samples.times.length; i += 1) {
          const { value } = convert({ spec: column.spec, raw: samples.raws[i] as number, atmosphere });
          if (value !== null) push(column, samples.times[i] as number, value, samples_max);
        }
      }
    },
    put(point, time, value) {
      const column = columns.get(point);
      if (column !== undefined) push(column, time, value, samples_max);
    },
    columns(point, from = Number.NEGATIVE_INFINITY) {
      const column = columns.get(point);
      if (column === undefined) return { times: new Float64Array(0), values: new Float64Array(0) };
      return copy(column, from);
    },
  };
}

function push(column: Column, time: number, value: number, samples_max: number): void {
  const { times, start, count } = column;
  const newest = count === 0 ? Number.NEGATIVE_INFINITY : (times[(start + count - 1) % times.length] as number);
  if (time <= newest) return;
  if (count === times.length) {
    if (count < samples_max) grow(column, Math.min(count * 2, samples_max));
    else {
      column.start = (start + 1) % times.length;
      column.count -= 1;
    }
  }
  const at = (column.start + column.count) % column.times.length;
  column.times[at] = time;
  column.values[at] = value;
  column.count += 1;
}

function grow(column: Column, size: number): void {
  const { times, values } = copy(column, Number.NEGATIVE_INFINITY);
  column.times = new Float64Array(size);
  column.values = new Float64Array(size);
  column.times.set(times);
  column.values.set(values);
  column.start = 0;
}

function copy(column: Column, from: number): FastColumns {
  const size = column.times.length;
  let skip = 0;
  while (skip < column.count && (column.times[(column.start + skip) % size] as number) <= from) skip += 1;
  const length = column.count - skip;
  const [times, values] = [new Float64Array(length), new Float64Array(length)];
  for (let i = 0; i < length; i += 1) {
    const at = (column.start + skip + i) % size;
    times[i] = column.times[at] as number;
    values[i] = column.values[at] as number;
  }
  return { times, values };
}
