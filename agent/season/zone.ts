/**
 * Local days and months of a time zone as spans of instants. Days have 23, 24 or 25 hours, and whatever else a zone
 * has decreed: a day begins at the first instant of its date, which is not always midnight.
 */
import { assert } from '../base/result.ts';
import { parseRfc3339, rfc3339 } from '../base/time.ts';

/** Local time less UTC at an instant, both in ms. */
export type Offsets = (time: number) => number;

/** From `from` (included) to `to` (not), ms since the epoch. */
export interface Span {
  readonly from: number;
  readonly to: number;
}

/** A local day (`2026-03-29`) or month (`2026-03`). */
export interface NamedSpan extends Span {
  readonly name: string;
}

export const HOUR = 3_600_000;
export const DAY = 24 * HOUR;

/**
 * Offsets of a zone of the IANA data base. The text of a given instant in a given zone depends on no clock and no
 * setting of the machine, only on the data base that comes with Node.
 */
export function zoneOffsets(zone: string): Offsets {
  const format = new Intl.DateTimeFormat('en', { timeZone: zone, timeZoneName: 'longOffset' });
  return (time) => {
    const text = format.formatToParts(time).find(({ type }) => type === 'timeZoneName')?.value ?? '';
    const parts = /^GMT(?:([+-])(\d{2}):(\d{2})(?::(\d{2}))?)?$/.exec(text);
    assert(parts !== null, `'${text}' is an offset`);
    const [, sign, hours = '0', minutes = '0', seconds = '0'] = parts;
    return (sign === '-' ? -1000 : 1000) * (3600 * Number(hours) + 60 * Number(minutes) + Number(seconds));
  };
}

/** The local date of an instant, `2026-03-29`. */
export function localDate(time: number, offsets: Offsets): string {
  return rfc3339(time + offsets(time)).slice(0, 10);
}

/** Local time for people, `2026-03-29 14:05`. */
export function localTime(time: number, offsets: Offsets): string {
  return rfc3339(time + offsets(time))
    .slice(0, 16)
    .replace('T', ' ');
}

/** First instant whose local date is `date` or, where the zone skipped that date, the next one. */
export function dayStart(date: string, offsets: Offsets): number {
  const midnight = parseRfc3339(`${date}T00:00:00Z`);
  assert(midnight !== null, `${date} is a date`);
  // Offsets lie between -12 and +14 h, so the change that matters, if there is one, lies between these two instants.
  const candidates = [offsets(midnight - 1.5 * DAY), offsets(midnight + 1.5 * DAY)].map((offset) => midnight - offset);
  const first = candidates.find((time) => localDate(time, offsets) >= date && localDate(time - 1, offsets) < date);
  return (
    first ?? changeWithin(date, offsets, { from: Math.min(...candidates) - DAY, to: Math.max(...candidates) + DAY })
  );
}

/** For zones that changed twice within three days: the instant by halving. */
function changeWithin(date: string, offsets: Offsets, { from, to }: Span): number {
  let [before, after] = [from, to];
  while (after - before > 1) {
    const middle = Math.floor((before + after) / 2);
    if (localDate(middle, offsets) >= date) after = middle;
    else before = middle;
  }
  return after;
}

/** The calendar date some days after a date. */
export function laterDate(date: string, days: number): string {
  const midnight = parseRfc3339(`${date}T00:00:00Z`);
  assert(midnight !== null, `${date} is a date`);
  return rfc3339(midnight + days * DAY).slice(0, 10);
}

/** The local days that a span touches, each cut to the span; in order, without a gap. */
export function daysOf({ from, to }: Span, offsets: Offsets): NamedSpan[] {
  const days: NamedSpan[] = [];
  for (let start = from; start < to; ) {
    const name = localDate(start, offsets);
    let end = dayStart(laterDate(name, 1), offsets);
    for (let more = 2; end <= start; more += 1) end = dayStart(laterDate(name, more), offsets);
    days.push({ name, from: start, to: Math.min(end, to) });
    start = end;
  }
  return days;
}

/** Days gathered by their month. */
export function monthsOf<T extends NamedSpan>(days: readonly T[]): { readonly name: string; readonly days: T[] }[] {
  const months: { name: string; days: T[] }[] = [];
  for (const day of days) {
    const name = day.name.slice(0, 7);
    if (months.at(-1)?.name !== name) months.push({ name, days: [] });
    months.at(-1)?.days.push(day);
  }
  return months;
}
