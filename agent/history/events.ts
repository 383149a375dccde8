/** What the store knows round one event: an alarm's steps, its minute, trends, and what was done to the machine. */
import type { Result } from '../base/result.ts';
import { journalEntry } from './journal.ts';
import { type MaintenanceEntry, type MaintenanceQuery, maintenanceBetween } from './maintenance.ts';
import { minutesBetween } from './minutes.ts';
import type { Store } from './store.ts';
import { minuteTrend } from './trend.ts';
import type { JournalEntry, StoredRecord, Trend, TrendQuery } from './types.ts';

/** Asks the store, and gives what goes wrong as a value. `what` names it for people. */
export type Read = <T>(what: string, query: (store: Store) => T) => Result<T>;

/** Steps of one alarm that are looked through for the one that is meant. */
const STEPS_MAX = 500;

export class EventReads {
  readonly #read: Read;

  constructor(read: Read) {
    this.#read = read;
  }

  /** Steps of an alarm, newest first; with `sequence` those of that minute alone. */
  alarmSteps({
    chiller,
    alarm,
    sequence,
  }: {
    readonly chiller: string;
    readonly alarm: string;
    readonly sequence: number | null;
  }): Result<JournalEntry[]> {
    return this.#read('alarm journal', (store) => {
      // Where it stands now is found by key: an alarm that never was is no search through the whole journal.
      if (store.get('SELECT 1 FROM alarm WHERE chiller = ? AND alarm = ?', chiller, alarm) === undefined) return [];
      return store
        .all(
          `SELECT * FROM journal WHERE chiller = ?1 AND alarm = ?2 AND (?3 IS NULL OR sequence = ?3)
           ORDER BY time DESC, row DESC LIMIT ?4`,
          chiller,
          alarm,
          sequence,
          STEPS_MAX,
        )
        .map(journalEntry);
    });
  }

  /** The newest steps of all alarms, newest first; of one chiller, or of all where it is null. */
  recentSteps(chiller: string | null): Result<JournalEntry[]> {
    return this.#read('alarm journal', (store) =>
      store
        .all(
          'SELECT * FROM journal WHERE ?1 IS NULL OR chiller = ?1 ORDER BY time DESC, row DESC LIMIT ?2',
          chiller,
          STEPS_MAX,
        )
        .map(journalEntry),
    );
  }

  /** A stored minute by number and end (ms); null where it was given up. */
  minuteOf({
    chiller,
    sequence,
    time,
  }: {
    readonly chiller: string;
    readonly sequence: number;
    readonly time: number;
  }): Result<StoredRecord | null> {
    return this.#read('minute', (store) => {
      for (const minute of minutesBetween(store, { chiller, from: time, to: time }))
        if (minute.sequence === sequence) return minute;
      return null;
    });
  }

  series(query: TrendQuery): Result<Trend> {
    return this.#read('minutes', (store) => minuteTrend(store, query));
  }

  maintenance(query: MaintenanceQuery): Result<MaintenanceEntry[]> {
    return this.#read('maintenance log', (store) => maintenanceBetween(store, query));
  }
}
