/** The store of a folder to look at, beside the agent that may be writing to it: nothing is made or changed. */
import { existsSync } from 'node:fs';
import path from 'node:path';
import { fail, ok, type Result } from '../base/result.ts';
import type { SteadyHour } from '../season/steady.ts';
import type { Sums } from '../season/sums.ts';
import type { Span } from '../season/zone.ts';
import { EventReads } from './events.ts';
import { type JournalQuery, journalBetween, openAlarms } from './journal.ts';
import { type MaintenanceEntry, type MaintenanceQuery, maintenanceBetween } from './maintenance.ts';
import { latestMinute, type MinutesQuery, minutesAfter, minutesBetween } from './minutes.ts';
import { FILE_NAME } from './open.ts';
import { type SpansQuery, steadyHoursOf, sumsOfSpans } from './rollups.ts';
import { SCHEMA } from './schema.ts';
import { loadState } from './state.ts';
import { faultCode, Store } from './store.ts';
import type { JournalEntry, StoredRecord, StoredState } from './types.ts';

/** Messages that wait for one sink. */
export interface Waiting {
  readonly sink: string;
  readonly messages: number;
  readonly bytes: number;
}

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

  /** Newest first. */
  alarmJournal(query: JournalQuery): Result<JournalEntry[]> {
    return this.#read(() => journalBetween(this.#store, query));
  }

  /** The fold's state as it was last kept; null before the first minute. */
  state(chiller: string): Result<StoredState | null> {
    return this.#read(() => loadState(this.#store, chiller));
  }

  latestMinute(chiller: string): Result<StoredRecord | null> {
    return this.#read(() => latestMinute(this.#store, chiller));
  }

  /** Minutes of a span, all of them in memory: ask for some hours at once. */
  minutes(query: MinutesQuery): Result<StoredRecord[]> {
    return this.#read(() => [...minutesBetween(this.#store, query)]);
  }

  /** A part of them at a time, after a sequence number (0: from the first); none: there are no more. */
  minutesAfter(query: MinutesQuery, sequence: number): Result<StoredRecord[]> {
    return this.#read(() => minutesAfter(this.#store, query, sequence));
  }

  /** What waits for each sink that anything waits for. */
  waiting(): Result<readonly Waiting[]> {
    return this.#read(() =>
      this.#store
        .all('SELECT sink, count(*) AS messages, sum(bytes) AS bytes FROM outbox GROUP BY sink ORDER BY sink')
        .map(({ sink, messages, bytes }) => ({
          sink: String(sink),
          messages: Number(messages),
          bytes: Number(bytes),
        })),
    );
  }

  /** Of the tables; `SCHEMA` has the newest. */
  get version(): number {
    return this.#version;
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
