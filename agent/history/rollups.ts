/**
 * Hours as sums. When the first minute of a new hour is stored, the hour before it is closed in the same transaction:
 * its minutes become one row. Whatever has no row (the present hour, hours from before there were rows, parts of hours
 * in zones off the full hour) is summed from its minutes when asked.
 */
import { existsSync } from 'node:fs';
import path from 'node:path';
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import type { SteadyHour, SteadySums } from '../season/steady.ts';
import { addSums, NO_SUMS, SUMS_FORM, type Sums, seasonMinute, sumsOf } from '../season/sums.ts';
import { HOUR, type Span } from '../season/zone.ts';
import { EventReads } from './events.ts';
import { openAlarms } from './journal.ts';
import { type MaintenanceEntry, type MaintenanceQuery, maintenanceBetween } from './maintenance.ts';
import { type MinutesQuery, minutesBetween } from './minutes.ts';
import { FILE_NAME } from './open.ts';
import { SCHEMA } from './schema.ts';
import { faultCode, Store } from './store.ts';
import type { JournalEntry, StoredRecord } from './types.ts';

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

/** The store of a folder to look at, beside the agent that may be writing to it. */
export class HistoryReader {
  /** What is known round one event. */
  readonly events = new EventReads((_what, query) => this.#read(() => query(this.#store)));
  readonly #store: Store;
  readonly #file: string;
  readonly #version: number;

  /** Faults: `history_io` where there is no store, `history_newer`, and those of a damaged or unreadable one. */
  static open(folder: string): Result<HistoryReader> {
    const file = path.join(folder, FILE_NAME);
    if (!existsSync(file))
      return fail('history_io', `${file} is not there: has the agent run with this site file, from this folder?`);
    let store: Store | null = null;
    try {
      store = new Store(file, { readOnly: true });
      const version = Number(store.get('SELECT max(version) AS version FROM schema_version')?.['version'] ?? 0);
      if (version <= SCHEMA.length) return ok(new HistoryReader(store, file, version));
      store.close();
      return fail('history_newer', `${file} is of version ${version}, this program knows up to ${SCHEMA.length}`);
    } catch (error) {
      store?.close();
      return faultOf(error, file);
    }
  }

  private constructor(store: Store, file: string, version: number) {
    this.#store = store;
    this.#file = file;
    this.#version = version;
  }

  seasonSums(query: SpansQuery): Result<Sums[]> {
    return this.#read(() => sumsOfSpans(this.#store, query, this.#version >= 2));
  }

  steadyHours(query: Span & { readonly chiller: string }): Result<SteadyHour[]> {
    return this.#read(() => steadyHoursOf(this.#store, query, this.#version >= 2));
  }

  maintenance(query: MaintenanceQuery): Result<MaintenanceEntry[]> {
    return this.#read(() => (this.#version >= 2 ? maintenanceBetween(this.#store, query) : []));
  }

  openAlarms(): Result<JournalEntry[]> {
    return this.#read(() => openAlarms(this.#store));
  }

  /** Minutes of a span, all of them in memory: ask for some hours at once. */
  minutes(query: MinutesQuery): Result<StoredRecord[]> {
    return this.#read(() => [...minutesBetween(this.#store, query)]);
  }

  close(): void {
    this.#store.close();
  }

  /** One view of the store throughout: a minute that is packed meanwhile is seen once. A fault closes the reader. */
  #read<T>(query: () => T): Result<T> {
    try {
      this.#store.exec('BEGIN');
      const answer = query();
      this.#store.exec('COMMIT');
      return ok(answer);
    } catch (error) {
      this.close();
      return faultOf(error, this.#file);
    }
  }
}

function faultOf(error: unknown, file: string): Result<never> {
  const code = faultCode(error);
  if (code === null) throw error;
  return fail(code, `${file}: ${(error as Error).message}`);
}
