/** The stretch of a window that can be judged, and its signals on one even grid. */
import type { FastColumns } from '../points/fast-window.ts';
import { afterLastHole, cleaned, type Grid, gridOver, onGrid, stretch, updateInterval } from './grid.ts';
import { RULES } from './rules.ts';
import type { LoopWindow } from './types.ts';

/** A stretch without holes or steps of the set point, as sampled. */
export interface Stretch {
  readonly measured: FastColumns;
  /** Learnt interval between new values, ms. */
  readonly interval: number;
  readonly setpointMoves: boolean;
  readonly flags: readonly string[];
}

/** Fewer new values than so many say nothing: ten periods of five. */
export const VALUES_LEAST = RULES.periods * RULES.samples_per_period;

/** The last stretch of the window; null with fewer than three samples. */
export function lastStretch(window: LoopWindow): Stretch | null {
  let measured = cleaned(window.measured);
  const interval = updateInterval(measured);
  if (interval === null || interval <= 0) return null;
  const flags: string[] = [];
  const whole = measured.times.length;
  measured = stretch(measured, afterLastHole(measured, RULES.hole * interval), whole);
  if (measured.times.length < whole) flags.push('hole');
  const moves = window.setpoint === null ? null : setpointMoves(cleaned(window.setpoint), measured);
  if (moves !== null && moves.last !== null) {
    const from = firstAt(measured.times, moves.last);
    if (from > 0) flags.push('setpoint_step');
    measured = stretch(measured, from, measured.times.length);
  }
  if (measured.times.length < 3) return null;
  return { measured, interval, setpointMoves: moves?.often === true, flags };
}

function firstAt(times: Float64Array, time: number): number {
  let from = 0;
  while (from < times.length && (times[from] as number) < time) from++;
  return from;
}

/** Changes of the set point within the stretch: the time of the last of a few steps, or that it moves all the time. */
function setpointMoves(setpoint: FastColumns, within: FastColumns): { last: number | null; often: boolean } {
  const { times, values } = setpoint;
  const begin = within.times[0] ?? Number.POSITIVE_INFINITY;
  let [count, last] = [0, null as number | null];
  for (let i = 1; i < times.length; i++) {
    if (values[i] === values[i - 1] || (times[i] as number) < begin) continue;
    count++;
    last = times[i] as number;
  }
  const often = count > Math.max(3, 0.02 * within.times.length);
  return { last: often ? null : last, often };
}

export interface Signals {
  /** Seconds. */
  readonly step: number;
  readonly grid: Grid;
  readonly measured: Float64Array;
  readonly output: Float64Array | null;
  readonly position: Float64Array | null;
  readonly setpoint: Float64Array | null;
}

/** Signals over the last `length` ms of a stretch at `step` ms; null where that leaves too few. */
export function signalsOf(
  window: LoopWindow,
  { measured }: Stretch,
  { length, step }: { readonly length: number; readonly step: number },
): Signals | null {
  const { times } = measured;
  const end = times[times.length - 1] as number;
  const from = firstAt(times, end - length);
  const part = stretch(measured, from, times.length);
  if (part.times.length < 3) return null;
  const grid = gridOver(part, step);
  if (grid.length < VALUES_LEAST) return null;
  const on = (columns: FastColumns | null, between: 'line' | 'hold'): Float64Array | null =>
    columns === null ? null : covering(cleaned(columns), grid, between);
  return {
    step: step / 1000,
    grid,
    measured: onGrid(part, grid, 'line') as Float64Array,
    output: on(window.output, 'hold'),
    position: on(window.position, 'line'),
    setpoint: on(window.setpoint, 'hold'),
  };
}

/** On the grid, or null where the columns leave more than a tenth of it uncovered. */
export function covering(columns: FastColumns, grid: Grid, between: 'line' | 'hold'): Float64Array | null {
  const { times } = columns;
  if (times.length < 2) return null;
  const span = (grid.length - 1) * grid.step;
  const [first, last] = [times[0] as number, times[times.length - 1] as number];
  const missing = Math.max(0, first - grid.start) + Math.max(0, grid.start + span - last);
  return missing > 0.1 * span ? null : onGrid(columns, grid, between);
}
