/** What a packet takes of the minute in which the alarm was raised; the record of a minute has it all. */
import type { AlarmReport } from '../alarms/evaluate.ts';
import type { Figure } from '../base/metric.ts';
import type { CycleState, EconomizerState } from '../cycle/types.ts';
import type { StandstillFound } from '../diagnosis/at-standstill.ts';

export interface CalloutMinute {
  /** RFC 3339 UTC, end of the interval. */
  readonly time: string;
  readonly sequence: number;
  readonly state: string;
  readonly state_since: string;
  readonly economizer: EconomizerState;
  /** Catalogue units, expanded uncertainties. */
  readonly figures: Readonly<Record<string, Figure>>;
  readonly points: Readonly<Record<string, Figure & { readonly unit: string; readonly age_s: number | null }>>;
  readonly states: Readonly<Record<string, CycleState>>;
  readonly ghost: Readonly<Record<string, CycleState>>;
  readonly standstill: StandstillFound | null;
  /** Sensors that contradict the others by the balances, in groups of which one is off; left out: not judged. */
  readonly reconciliation?: { readonly suspects: readonly (readonly string[])[] };
  readonly alarms: readonly AlarmReport[];
}

/** A metric, or a point where no metric has that name; null where the minute has neither. */
export function figureOf({ figures, points }: CalloutMinute, name: string): Figure | null {
  return figures[name] ?? points[name] ?? null;
}

/** A trend as the store gives it: buckets in order, each named by its end (ms). */
export interface TrendColumns {
  readonly name: string;
  readonly unit: string;
  readonly step_s: number;
  readonly buckets: readonly {
    readonly time: number;
    readonly least: number | null;
    readonly greatest: number | null;
    readonly mean: number | null;
  }[];
}
