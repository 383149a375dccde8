/** What a valve does: travel, reversals, dead band between command and position, time at its ends. */
import { quantile, weightedMedian } from './statistics.ts';

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
  /** Command's excursion while the position stands, less the position's own; signal's unit. */
  readonly band: number;
  /** Movement when it comes free. */
  readonly jump: number;
  /** Part of the time that the position stands while the command leaves it by more than half the band. */
  readonly standing: number;
  /** Part of the time that the position stands at all. */
  readonly still: number;
  /** Range of position less command, in jumps: 1 for a positioner that rounds, 2 for a stem that sticks. */
  readonly spread: number;
}

interface Stand {
  readonly length: number;
  readonly band: number;
  readonly jump: number;
}

/** Stretches in which the position stays within `tolerance` and after which it moves on. */
function stands(command: Float64Array, position: Float64Array, tolerance: number): Stand[] {
  const found: Stand[] = [];
  const n = position.length;
  let from = 0;
  while (from < n) {
    let [low, high] = [position[from] as number, position[from] as number];
    let [least, most] = [command[from] as number, command[from] as number];
    let to = from + 1;
    for (; to < n; to++) {
      const value = position[to] as number;
      if (Math.max(high, value) - Math.min(low, value) > tolerance) break;
      [low, high] = [Math.min(low, value), Math.max(high, value)];
      [least, most] = [Math.min(least, command[to] as number), Math.max(most, command[to] as number)];
    }
    const jump = Math.abs((position[Math.min(n - 1, to + 1)] as number) - (position[to - 1] as number));
    if (to - from >= 3 && to < n)
      found.push({ length: to - from, band: Math.max(0, most - least - (high - low)), jump });
    from = to;
  }
  return found;
}

/**
 * Compares command and position on one grid. `tolerance`: movements below it are noise or resolution of the position.
 * Null where the position did not stand and move again three times.
 */
export function friction(command: Float64Array, position: Float64Array, tolerance: number): Friction | null {
  const found = stands(command, position, tolerance);
  if (found.length < 3) return null;
  const lengths = found.map(({ length }) => length);
  const band = weightedMedian(
    found.map((stand) => stand.band),
    lengths,
  );
  const jump = weightedMedian(
    found.map((stand) => stand.jump),
    lengths,
  );
  const standing = found.reduce((sum, stand) => sum + (stand.band >= band / 2 ? stand.length : 0), 0);
  const apart = position.map((value, i) => value - (command[i] as number));
  return {
    band,
    jump,
    standing: standing / position.length,
    still: found.reduce((sum, { length }) => sum + length, 0) / position.length,
    spread: jump > 0 ? (quantile(apart, 0.97) - quantile(apart, 0.03)) / jump : 0,
  };
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
