/** The stretch of a window that can be judged, and its signals on one even grid. */
import type { FastColumns } from '../points/fast-window.ts';
import { cleaned, type Grid, gridOver, holesOf, onGrid, stretch, updateInterval } from './grid.ts';
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

/**
 * The stretch to judge: the last one of a live window, the longest one of a recording. Null with fewer than three
 * samples.
 */
export function stretchOf(window: LoopWindow, which: 'last' | 'longest'): Stretch | null {
  const whole = cleaned(window.measured);
  const interval = updateInterval(whole);
  if (interval === null || interval <= 0) return null;
  const holes = holesOf(whole, RULES.hole * interval);
  const moves = window.setpoint === null ? [] : changesOf(cleaned(window.setpoint), whole);
  const often = moves.length > Math.max(3, 0.02 * whole.times.length);
  const cuts = [...holes, ...(often ? [] : moves)].sort((a, b) => a - b);
  const edges = [0, ...cuts, whole.times.length];
  let [from, to] = edges.slice(-2) as [number, number];
  if (which === 'longest')
    for (let i = 1; i < edges.length; i++) {
      const [low, high] = [edges[i - 1] as number, edges[i] as number];
      if (high - low >= to - from) [from, to] = [low, high];
    }
  if (to - from < 3) return null;
  const flags = [...(holes.length > 0 ? ['hole'] : []), ...(moves.length > 0 && !often ? ['setpoint_step'] : [])];
  return { measured: stretch(whole, from, to), interval, setpointMoves: often, flags };
}

/** All of a recording, for what a step of the set point tells rather than disturbs; null where it has holes. */
export function uncut(window: LoopWindow, { interval, setpointMoves, flags }: Stretch): Stretch | null {
  if (flags.includes('hole')) return null;
  return { measured: cleaned(window.measured), interval, setpointMoves, flags };
}

/** Indices of the samples before which the set point changed. */
function changesOf({ times, values }: FastColumns, within: FastColumns): number[] {
  const found = new Set<number>();
  for (let i = 1; i < times.length; i++)
    if (values[i] !== values[i - 1]) found.add(firstAt(within.times, times[i] as number));
  found.delete(0);
  found.delete(within.times.length);
  return [...found];
}

function firstAt(times: Float64Array, time: number): number {
  let [low, high] = [0, times.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((times[middle] as number) < time) low = middle + 1;
    else high = middle;
  }
  return low;
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
