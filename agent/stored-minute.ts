/** A minute's record as the store keeps it, and back. */
import type { Doubt } from './base/quality.ts';
import type { CycleState } from './cycle/types.ts';
import { joinFigures, type RandomShares, randomShares, type SplitFigures, splitFigures } from './metrics/figures.ts';
import { type MinuteRecord, NO_RECONCILIATION, type PointFigure } from './minute.ts';

/**
 * The record as the store keeps it: figures and points as plain numbers for trends, what belongs to each beside them.
 */
export type StoredMinute = Omit<MinuteRecord, 'points' | 'figures'> &
  SplitFigures & {
    readonly random_share: RandomShares;
    readonly points: Readonly<Record<string, number | null>>;
    readonly point_detail: MinuteRecord['points'];
  };

export function toStored({ figures, points: point_detail, ...rest }: MinuteRecord): StoredMinute {
  const points = Object.fromEntries(Object.entries(point_detail).map(([name, { value }]) => [name, value]));
  return { ...rest, ...splitFigures(figures), random_share: randomShares(figures), points, point_detail };
}

/**
 * The newest record as the store kept it, also of an earlier version: what that one did not know is empty, and what
 * has another shape is left out. Null where it does not say of which minute it is: the next one will be there soon.
 */
export function fromStored(stored: unknown, chiller: string): MinuteRecord | null {
  if (!isGroup(stored)) return null;
  const { point_detail, values, uncertainty, random_share, quality, ...rest } = stored as Partial<StoredMinute>;
  if (typeof rest.time !== 'string' || !Number.isFinite(Date.parse(rest.time))) return null;
  if (typeof rest.sequence !== 'number') return null;
  return {
    ...rest,
    chiller,
    time: rest.time,
    sequence: rest.sequence,
    interval_s: rest.interval_s ?? 60,
    state: rest.state ?? 'unknown',
    state_since: rest.state_since ?? rest.time,
    economizer: rest.economizer ?? 'unknown',
    figures: joinFigures(
      {
        values: entries<number | null>(values, (each) => each === null || typeof each === 'number'),
        uncertainty: entries<number>(uncertainty, (each) => typeof each === 'number'),
        quality: entries<Doubt>(quality, isGroup),
      },
      entries<number>(random_share, (each) => typeof each === 'number'),
    ),
    points: entries<PointFigure>(point_detail, (each) => isGroup(each) && 'value' in each && 'quality' in each),
    states: entries<CycleState>(rest.states, isGroup),
    ghost: entries<CycleState>(rest.ghost, isGroup),
    standstill: isGroup(rest.standstill) ? rest.standstill : null,
    reconciliation: isReconciliation(rest.reconciliation) ? rest.reconciliation : NO_RECONCILIATION,
    alarms: Array.isArray(rest.alarms) ? rest.alarms.filter(isAlarm) : [],
  };
}

function isGroup(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function isReconciliation(value: unknown): value is MinuteRecord['reconciliation'] {
  return isGroup(value) && isGroup(value['corrections']) && isGroup(value['off']) && Array.isArray(value['suspects']);
}

function isAlarm(value: unknown): boolean {
  return isGroup(value) && typeof value['id'] === 'string' && Array.isArray(value['evidence']);
}

/** The entries of a group that are what they should be; none where it is no group. */
function entries<T>(value: unknown, fits: (each: unknown) => boolean): Record<string, T> {
  const kept = isGroup(value) ? Object.entries(value).filter(([, each]) => fits(each)) : [];
  return Object.fromEntries(kept) as Record<string, T>;
}
