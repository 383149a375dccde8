/** What a valve does: travel, reversals, dead band between command and position, time at its ends. */
import { median, quantile } from './statistics.ts';

export interface Turning {
  /** Sum of movements, in the signal's unit. */
  readonly travel: number;
  readonly reversals: number;
}

/** Movements larger than `least` and the changes of direction between them: noise and resolution are no travel. */
export function turning(values: Float64Array, least: number): Turning {
  let [travel, reversals, direction] = [0, 0, 0];
  let anchor = values[0] as number;
  let far = anchor;
  for (const value of values) {
    if (direction === 0) {
      if (Math.abs(value - anchor) > least) [direction, far] = [Math.sign(value - anchor), value];
      continue;
    }
    if (direction * (value - far) >= 0) far = value;
    else if (Math.abs(value - far) > least) {
      travel += Math.abs(far - anchor);
      reversals++;
      [anchor, far, direction] = [far, value, -direction];
    }
  }
  return { travel: travel + Math.abs(far - anchor), reversals };
}

export interface Friction {
  /** Command's excursion while the position stands: the band by which it must leave the stem; signal's unit. */
  readonly band: number;
  /** Movement when it comes free. */
  readonly jump: number;
  /** Part of the time that the position stands while the command moves by more than half the band. */
  readonly standing: number;
}

/**
 * Compares command and position on one grid. `tolerance`: movements below it are noise or resolution of the position.
 * Null where the position never stood and moved again.
 */
export function friction(command: Float64Array, position: Float64Array, tolerance: number): Friction | null {
  const bands: number[] = [];
  const jumps: number[] = [];
  const lengths: number[] = [];
  const n = position.length;
  let from = 0;
  while (from < n) {
    let [low, high] = [position[from] as number, position[from] as number];
    let to = from + 1;
    for (; to < n; to++) {
      const value = position[to] as number;
      if (Math.max(high, value) - Math.min(low, value) > tolerance) break;
      [low, high] = [Math.min(low, value), Math.max(high, value)];
    }
    if (to - from >= 3 && to < n) {
      let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
      for (let i = from; i < to; i++) {
        least = Math.min(least, command[i] as number);
        most = Math.max(most, command[i] as number);
      }
      bands.push(most - least);
      jumps.push(Math.abs((position[Math.min(n - 1, to + 1)] as number) - (position[to - 1] as number)));
      lengths.push(to - from);
    }
    from = to;
  }
  if (bands.length < 3) return null;
  // The first and last stand are cut off by the window; the long ones tell of the friction, short ones of the slope.
  const long = quantile(lengths, 0.5);
  const told = bands.filter((_, i) => (lengths[i] as number) >= long);
  const band = median(told);
  let standing = 0;
  bands.forEach((each, i) => {
    if (each >= band / 2) standing += lengths[i] as number;
  });
  return { band, jump: median(jumps), standing: standing / n };
}

/** Part of the time at either end: within `near` of 0 or `stroke`. */
export function atEnds(values: Float64Array, stroke: number, near: number): number {
  let count = 0;
  for (const value of values) if (value <= near * stroke || value >= (1 - near) * stroke) count++;
  return values.length === 0 ? 0 : count / values.length;
}

/**
 * Part of the time at exactly its greatest or exactly its least value, where that is a flat stretch again and again: an
 * end stop or a limit set in the controller.
 */
export function pegged(values: Float64Array): number {
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of values) [least, most] = [Math.min(least, value), Math.max(most, value)];
  const near = 1e-3 * (most - least);
  let [low, high] = [0, 0];
  for (const value of values) {
    if (value - least <= near) low++;
    if (most - value <= near) high++;
  }
  return most === least || values.length === 0 ? 0 : Math.max(low, high) / values.length;
}
