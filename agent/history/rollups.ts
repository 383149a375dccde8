/**
 * Hours as sums. When the first minute of a new hour is stored, the hour before it is closed in the same transaction:
 * its minutes become one row. Whatever has no row (the present hour, hours from before there were rows, parts of hours
 * in zones off the full hour) is summed from its minutes when asked.
 */
import { LIMITS } from '../base/limits.ts';
import type { SteadyHour, SteadySums } from '../season/steady.ts';
import { addSums, NO_SUMS, SUMS_FORM, type Sums, seasonMinute, sumsOf } from '../season/sums.ts';
import { HOUR, type Span } from '../season/zone.ts';
import { minutesBetween } from './minutes.ts';
import type { Store } from './store.ts';
import type { StoredRecord } from './types.ts';

export interface SpansQuery {
  readonly chiller: string;
  /** In order, each beginning no sooner than the one before it ends; an interval counts by its end, `from` excluded. */
  readonly spans: readonly Span[];
}

/** Start of the hour an interval belongs to that ends at `time`. */
const hourOf = (time: number): number => Math.ceil(time / HOUR) * HOUR - HOUR;

/** Before a minute is stored: `last` is the end of the one before it. */
export function closeHour(
  store: Store,
  { chiller, last, time }: { readonly chiller: string; readonly last: number; readonly time: number },
): void {
  const start = hourOf(last);
  const next = hourOf(time);
  // A clock that was set back brings minutes of an hour that may be closed: it is open again.
  if (next <= start) {
    if (time < last) store.run('DELETE FROM season_hour WHERE chiller = ? AND start >= ?', chiller, next);
    return;
  }
  const sums = sumOf(minutesBetween(store, { chiller, from: start + 1, to: start + HOUR }));
  store.run(
    'INSERT OR REPLACE INTO season_hour (chiller, start, form, sums) VALUES (?, ?, ?, ?)',
    chiller,
    start,
    SUMS_FORM,
    JSON.stringify(sums),
  );
  store.run(
    'DELETE FROM season_hour WHERE chiller = ? AND start < ?',
    chiller,
    start - LIMITS.season_hours_kept_max * HOUR,
  );
}

function sumOf(minutes: Iterable<StoredRecord>): Sums {
  let sums = NO_SUMS;
  for (const stored of minutes) sums = addSums(sums, sumsOfStored(stored));
  return sums;
}

function sumsOfStored({ record, time }: StoredRecord): Sums {
  const minute = seasonMinute(parsed(record), time);
  return minute === null ? NO_SUMS : sumsOf(minute);
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

export function sumsOfSpans(store: Store, { chiller, spans }: SpansQuery, hours = true): Sums[] {
  const totals: Sums[] = spans.map(() => NO_SUMS);
  const add = (index: number, sums: Sums): void => {
    totals[index] = addSums(totals[index] as Sums, sums);
  };
  const [first, last] = [spans[0], spans.at(-1)];
  if (first === undefined || last === undefined) return totals;
  const rows = hours
    ? store.all(
        'SELECT start, sums FROM season_hour WHERE chiller = ? AND form = ? AND start >= ? AND start <= ? ORDER BY start',
        chiller,
        SUMS_FORM,
        first.from,
        last.to - HOUR,
      )
    : [];
  const at = walk(spans);
  const closed: number[] = [];
  for (const row of rows) {
    const start = Number(row['start']);
    const index = at(start + 1);
    // An hour that reaches over the end of its span is shared out by its minutes.
    if (index === null || start + HOUR > (spans[index] as Span).to || start < (spans[index] as Span).from) continue;
    add(index, JSON.parse(String(row['sums'])) as Sums);
    closed.push(start);
  }
  const within = walk(spans);
  for (const { from, to } of without(closed, { from: first.from, to: last.to }))
    for (const stored of minutesBetween(store, { chiller, from: from + 1, to })) {
      const index = within(stored.time);
      if (index !== null) add(index, sumsOfStored(stored));
    }
  return totals;
}

/**
 * The whole hours of a span with what is known of the steady machine in them, in order; what has no row yet is summed
 * from its minutes.
 */
export function steadyHoursOf(
  store: Store,
  { chiller, from, to }: Span & { readonly chiller: string },
  hours = true,
): SteadyHour[] {
  const span = { from: Math.ceil(from / HOUR) * HOUR, to: Math.floor(to / HOUR) * HOUR };
  const found = new Map<number, SteadySums>();
  const rows = hours
    ? store.all(
        `SELECT start, sums ->> '$.steady' AS steady FROM season_hour
         WHERE chiller = ? AND form = ? AND start >= ? AND start < ? ORDER BY start`,
        chiller,
        SUMS_FORM,
        span.from,
        span.to,
      )
    : [];
  for (const row of rows) found.set(Number(row['start']), JSON.parse(String(row['steady'])) as SteadySums);
  const closed = [...found.keys()];
  if (span.to > span.from)
    for (const { from: start, to: end } of without(closed, span))
      for (const stored of minutesBetween(store, { chiller, from: start + 1, to: end })) {
        const hour = hourOf(stored.time);
        const { steady } = addSums({ ...NO_SUMS, steady: found.get(hour) ?? {} }, sumsOfStored(stored));
        found.set(hour, steady);
      }
  return [...found]
    .filter(([, steady]) => Object.keys(steady).length > 0)
    .sort(([a], [b]) => a - b)
    .map(([start, steady]) => ({ start, steady }));
}

/** Finds the span that a time belongs to, beginning from the last one found. */
function walk(spans: readonly Span[]): (time: number) => number | null {
  let index = 0;
  const holds = (time: number, span: Span | undefined): boolean =>
    span !== undefined && time > span.from && time <= span.to;
  return (time) => {
    if (time <= (spans[index]?.from ?? 0)) index = 0;
    while (index < spans.length - 1 && time > (spans[index] as Span).to) index += 1;
    return holds(time, spans[index]) ? index : null;
  };
}

/** What of a span the hours leave over. */
function without(hours: readonly number[], { from, to }: Span): Span[] {
  const left: Span[] = [];
  let reached = from;
  for (const start of hours) {
    if (start > reached) left.push({ from: reached, to: start });
    reached = start + HOUR;
  }
  if (to > reached) left.push({ from: reached, to });
  return left;
}
