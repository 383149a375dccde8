/** What a source of any bus is made from. */
import type { Clock } from '../base/clock.ts';
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import type { PointName } from '../points/dictionary.ts';
import type { SourceLog } from './log.ts';
import type { Timers } from './timers.ts';

/** What every source of a process shares. */
export interface SourceMeans {
  readonly clock: Clock;
  readonly timers: Timers;
  /** Uniform in [0, 1): transaction and invoke ids, numbers of subscriptions, jitter of the back-off. */
  readonly random: () => number;
  readonly log: SourceLog;
}

export interface SourceOptions<Settings, Address> extends SourceMeans {
  readonly chiller: string;
  readonly settings: Settings;
  readonly points: readonly { readonly name: PointName; readonly address: Address; readonly fast: boolean }[];
}

/** Points that one source can read. Faults: `source_settings`. */
export function checkPoints(
  { chiller, points }: Pick<SourceOptions<unknown, unknown>, 'chiller' | 'points'>,
  bus: string,
): Result<null> {
  if (points.length === 0)
    return fail('source_settings', `${chiller}: no point has a ${bus} address; map at least one`);
  if (points.length > LIMITS.points_per_chiller_max)
    return fail('source_settings', `${chiller}: ${points.length} points, at most ${LIMITS.points_per_chiller_max}`);
  const names = new Set<string>();
  for (const { name } of points) {
    if (names.has(name)) return fail('source_settings', `${chiller}: point ${name} is mapped twice; keep one`);
    names.add(name);
  }
  return ok(null);
}
