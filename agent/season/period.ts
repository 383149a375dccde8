/** A period as people ask for it: dates are whole local days, both included; instants are taken as they are. */
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { parseRfc3339, rfc3339 } from '../base/time.ts';
import { DAY, dayStart, laterDate, localDate, type Offsets, type Span } from './zone.ts';

const DATE = /^\d{4}-\d{2}-\d{2}$/;

/** What ends after `now` ends now. Left out, `to` is now. The fault is one sentence about the text that is wrong. */
export function readPeriod(
  given: { readonly from: string; readonly to: string | undefined },
  { offsets, now }: { readonly offsets: Offsets; readonly now: number },
): Result<Span> {
  const from = readEdge(given.from, offsets, 0);
  if (from === null) return fail('usage', `from ${given.from}: ${FORMS}`);
  const asked = given.to === undefined ? now : readEdge(given.to, offsets, 1);
  if (asked === null) return fail('usage', `to ${given.to}: ${FORMS}`);
  const to = Math.min(asked, now);
  if (from >= to)
    return fail('usage', `nothing lies between ${rfc3339(from)} and ${rfc3339(to)}${to < asked ? ' (now)' : ''}`);
  if (to - from > LIMITS.season_days_max * DAY)
    return fail('usage', `longer than ${LIMITS.season_days_max} days: ask for a shorter period`);
  return ok({ from, to });
}

const FORMS = 'give a date such as 2026-07-01, or an instant such as 2026-07-01T06:00:00Z';

/** `days`: 0 for the start of a date, 1 for its end. */
function readEdge(text: string, offsets: Offsets, days: number): number | null {
  if (!DATE.test(text)) return parseRfc3339(text);
  // A date that no calendar has (30 February) is refused, not moved on.
  const midnight = parseRfc3339(`${text}T00:00:00Z`);
  if (midnight === null || rfc3339(midnight).slice(0, 10) !== text) return null;
  const date = days === 0 ? text : laterDate(text, days);
  return dayStart(date, offsets);
}

/** The month so far, where nobody says from when. */
export function monthStart(now: number, offsets: Offsets): string {
  return `${localDate(now, offsets).slice(0, 7)}-01`;
}
