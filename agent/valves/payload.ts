/** `<root>/<chiller>/valves`: the verdict on both level loops, each interval. */
import type { Message } from '../base/delivery.ts';
import type { LoopName, LoopVerdicts } from './metrics.ts';
import type { Cause, LoopVerdict, Sticking, Verdict } from './types.ts';

export interface LoopPayload {
  readonly verdict: Verdict;
  readonly reason: string | null;
  readonly index: number | null;
  readonly period_s: number | null;
  readonly period_uncertainty_s: number | null;
  readonly level_amplitude: number | null;
  readonly level_amplitude_uncertainty: number | null;
  readonly position_amplitude: number | null;
  readonly travel_per_hour: number | null;
  readonly reversals_per_hour: number | null;
  readonly cause: Cause | null;
  readonly driver: string | null;
  readonly sticking: Sticking;
  readonly seen: LoopVerdict['seen'];
  readonly flags: readonly string[];
}

export interface ValvesPayload {
  /** RFC 3339 UTC, the interval's end. */
  readonly time: string;
  readonly sequence: number;
  /** Of the loops that the machine has. */
  readonly loops: Readonly<Partial<Record<LoopName, LoopPayload>>>;
}

export interface ValvesMinute {
  /** `<prefix>/<site>` */
  readonly root: string;
  readonly chiller: string;
  readonly time: string;
  readonly sequence: number;
  readonly loops: LoopVerdicts;
}

/** The verdict as it travels: levels and strokes as fractions of 1, times in s, uncertainties expanded (k = 2). */
export function loopPayload(verdict: LoopVerdict): LoopPayload {
  const { period_s, level_amplitude, position_amplitude, ...rest } = verdict;
  return {
    verdict: rest.verdict,
    reason: rest.reason,
    index: rest.index,
    period_s: period_s?.value ?? null,
    period_uncertainty_s: period_s?.uncertainty ?? null,
    level_amplitude: level_amplitude?.value ?? null,
    level_amplitude_uncertainty: level_amplitude?.uncertainty ?? null,
    position_amplitude: position_amplitude?.value ?? null,
    travel_per_hour: rest.travel_per_hour,
    reversals_per_hour: rest.reversals_per_hour,
    cause: rest.cause,
    driver: rest.driver,
    sticking: rest.sticking,
    seen: rest.seen,
    flags: rest.flags,
  };
}

export function valvesMessage({ root, chiller, time, sequence, loops }: ValvesMinute): Message {
  const entries = Object.entries(loops).map(([name, verdict]) => [name, loopPayload(verdict)] as const);
  const payload: ValvesPayload = {
    time,
    sequence,
    loops: Object.fromEntries(entries),
  };
  return {
    sink: 'mqtt',
    address: `${root}/${chiller}/valves`,
    payload: JSON.stringify(payload),
    retain: false,
    chiller,
    sequence,
  };
}
