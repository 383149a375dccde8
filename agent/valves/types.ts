/** What the search for hunting reads and what it answers. Times in ms since the epoch, levels and strokes in SI. */
import type { FastColumns } from '../points/fast-window.ts';

/** What the loop controls. A level integrates what flows in and out; a flow follows its valve at once. */
export type LoopKind = 'level' | 'flow' | 'pressure' | 'other';

export const LOOP_KINDS: readonly LoopKind[] = ['level', 'flow', 'pressure', 'other'];

export type Verdict = 'hunting' | 'steady' | 'not_enough' | 'unusable';

export type Cause =
  | 'friction or backlash'
  | 'driven'
  | 'valve at its limit'
  | 'coarse actuator or signal'
  | 'tank pressure swing'
  | 'tuning';

/** Something beside the loop that may move its level. */
export interface Driver {
  readonly name: string;
  readonly columns: FastColumns;
  /**
   * `inflow`: the valve that feeds this vessel, in parts of its stroke; `pressure`: the vessel's own pressure, which
   * swells the liquid; `outside`: anything that this loop cannot move.
   */
  readonly relation: 'inflow' | 'pressure' | 'outside';
}

export interface LoopWindow {
  readonly kind: LoopKind;
  readonly measured: FastColumns;
  /** The controller's output: the command to the valve. */
  readonly output: FastColumns | null;
  /** Where the valve stands. */
  readonly position: FastColumns | null;
  readonly setpoint: FastColumns | null;
  readonly drivers: readonly Driver[];
  /** Least amplitude worth a verdict, in the unit of `measured`; null: judged against the noise alone. */
  readonly band: number | null;
  /** Full stroke in the unit of output and position; null where it is not known (a recording). */
  readonly stroke: number | null;
}

export interface Estimate {
  readonly value: number;
  /** Expanded (k = 2). */
  readonly uncertainty: number;
}

export interface Sticking {
  readonly verdict: 'sticking' | 'not_sticking' | 'undecided';
  /** 0 to 1; above `RULES.sticking` is sticking. Null where nothing could be judged. */
  readonly score: number | null;
  /** What the score was read from. */
  readonly from: string | null;
}

export interface LoopVerdict {
  readonly verdict: Verdict;
  /** Why there is no verdict of hunting or steady; null where there is. */
  readonly reason: string | null;
  /** 0 (no regularity) to 1 (a clock); above 0.5 and with enough amplitude it is hunting. */
  readonly index: number | null;
  readonly period_s: Estimate | null;
  /** Of the measured value, in its unit: that of the sine with the same area. */
  readonly level_amplitude: Estimate | null;
  readonly position_amplitude: Estimate | null;
  /** Full strokes (or the unit of the output) per hour, and changes of direction per hour. */
  readonly travel_per_hour: number | null;
  readonly reversals_per_hour: number | null;
  readonly cause: Cause | null;
  /** Who drives it, where the cause is `driven`. */
  readonly driver: string | null;
  readonly sticking: Sticking;
  /** Learnt interval between new values, and the periods that it and the window's length let through; s. */
  readonly seen: { readonly interval_s: number; readonly shortest_s: number; readonly longest_s: number } | null;
  readonly flags: readonly string[];
}
