/**
 * The standstill check as the minute carries it: taken while the machine stands, kept until the next stop long enough.
 */
import { rfc3339 } from '../base/time.ts';
import type { UnitState } from '../points/running.ts';
import type { Snapshot } from '../points/types.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import { type StandstillCheck, standstillCheck } from './standstill.ts';

/** Plain JSON. */
export interface StandstillFound extends StandstillCheck {
  /** RFC 3339 UTC: end of the interval that was judged. */
  readonly time: string;
}

/** The newest check that had something to say; null before the first. */
export function atStandstill(
  before: StandstillFound | null,
  now: { readonly state: UnitState; readonly snapshot: Snapshot; readonly refrigerant: Refrigerant },
): StandstillFound | null {
  if (now.state !== 'standstill') return before;
  const check = standstillCheck({ snapshot: now.snapshot, refrigerant: now.refrigerant });
  return check.ready ? { ...check, time: rfc3339(now.snapshot.time) } : before;
}

/** Sensors that cannot be right at standstill, with what was found; empty unless the check is of this interval. */
export function standstillSuspects(
  found: StandstillFound | null,
  time: string,
): readonly { readonly name: string; readonly reason: string }[] {
  if (found === null || found.time !== time) return [];
  return found.suspects.map(({ point, offset, u }) => ({
    name: point,
    reason: `at standstill ${amount(point, offset)} from the other sensors (standard uncertainty ${amount(point, u)})`,
  }));
}

function amount(point: string, value: number): string {
  return point.endsWith('.pressure') ? `${(value / 1000).toFixed(1)} kPa` : `${value.toFixed(1)} K`;
}
