/**
 * Whether readings taken one after another move, and how often they truly change: a gateway may answer far faster than
 * it refreshes.
 */
import { unitOf } from '../base/units.ts';
import type { PointSpec } from '../points/types.ts';

export interface Liveliness {
  /** Seconds between true changes, as the readings show them; null where fewer than two changes were seen. */
  readonly update_s: number | null;
  /** Why the point seems frozen or slow, or null. */
  readonly code: 'frozen' | 'slow' | null;
  readonly message: string | null;
}

/** Readings from which standing still means something, where the number is a fine one. */
const READINGS_LEAST = 4;
/** Seconds over which even a coarsely rounded measurement moves. */
const COARSE_S = 300;
/** Changes this many times rarer than the readings are the controller's own pace. */
const SLOWER = 3;

const MAY_STAND: ReadonlySet<string> = new Set(['state', 'count', 'time', 'fraction']);

/** Equal lengths, times ascending in ms. */
export function liveliness(
  spec: PointSpec,
  { times, raws }: { readonly times: readonly number[]; readonly raws: readonly number[] },
): Liveliness {
  const nothing: Liveliness = { update_s: null, code: null, message: null };
  const [first, last] = [times[0], times[times.length - 1]];
  if (first === undefined || last === undefined || times.length < 2) return nothing;
  const span_s = (last - first) / 1000;
  const changes = times.filter((_, index) => index > 0 && !Object.is(raws[index], raws[index - 1]));
  const gaps = changes.slice(1).map((time, index) => (time - (changes[index] as number)) / 1000);
  const update_s = gaps.length === 0 ? null : (gaps.sort((a, b) => a - b)[Math.floor(gaps.length / 2)] as number);
  if (MAY_STAND.has(unitOf(spec.unit).dimension) || raws[0] === 0) return { ...nothing, update_s };
  if (changes.length === 0 && (span_s >= COARSE_S || (times.length >= READINGS_LEAST && raws.every(isFine)))) {
    const message = `${times.length} readings over ${span_s.toFixed(0)} s are the same to the last digit (raw ${raws[0]})`;
    return { update_s, code: 'frozen', message };
  }
  const pace_s = span_s / (times.length - 1);
  if (update_s !== null && gaps.length >= 2 && update_s > SLOWER * pace_s && raws.every(isFine)) {
    const message =
      `read every ${pace_s.toFixed(1)} s but changes every ${update_s.toFixed(0)} s: ` +
      'nothing faster can be seen of it; poll no faster, or look at the gateway';
    return { update_s, code: 'slow', message };
  }
  return { ...nothing, update_s };
}

/** More digits than a display shows: such a number of a running machine never stands. */
function isFine(raw: number): boolean {
  return !Number.isInteger(Math.round(raw * 1e6) / 1000);
}
