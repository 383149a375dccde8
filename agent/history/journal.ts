/** The journal of alarms: every step of their lives, and where each stands now. */
import { LIMITS } from '../base/limits.ts';
import type { Row, Store } from './store.ts';
import type { JournalEntry, MinuteCommit } from './types.ts';

export function writeEvents(store: Store, { chiller, sequence, alarmEvents }: MinuteCommit): void {
  for (const { id, time, state, priority, detail } of alarmEvents) {
    store.run(
      'INSERT INTO journal (chiller, sequence, alarm, time, state, priority, detail) VALUES (?, ?, ?, ?, ?, ?, ?)',
      chiller,
      sequence,
      id,
      time,
      state,
      priority,
      detail,
    );
    store.run(
      'INSERT OR REPLACE INTO alarm (chiller, alarm, sequence, time, state, priority, detail) VALUES (?, ?, ?, ?, ?, ?, ?)',
      chiller,
      id,
      sequence,
      time,
      state,
      priority,
      detail,
    );
  }
}

/** Gives up the oldest entries beyond the bound; where an alarm stands now is kept apart and not touched. */
export function boundJournal(store: Store, rows_max: number): void {
  const rows = Number(store.get('SELECT count(*) AS n FROM journal')?.['n']);
  if (rows <= rows_max) return;
  store.run(
    'DELETE FROM journal WHERE row IN (SELECT row FROM journal ORDER BY row LIMIT ?)',
    Math.min(rows - rows_max, LIMITS.history_deletes_per_commit_max),
  );
}

/** Alarms whose last step did not end them, the most urgent and then the oldest first. */
export function openAlarms(store: Store): JournalEntry[] {
  return store.all("SELECT * FROM alarm WHERE state <> 'normal' ORDER BY priority, time").map(journalEntry);
}

export interface JournalQuery {
  readonly chiller: string | null;
  readonly from: number;
  readonly to: number;
  readonly count: number;
}

/** Steps of a span, newest first, at most `count`; of one chiller, or of all where `chiller` is null. */
export function journalBetween(store: Store, { chiller, from, to, count }: JournalQuery): JournalEntry[] {
  return store
    .all(
      `SELECT * FROM journal WHERE time BETWEEN ?1 AND ?2 AND (?3 IS NULL OR chiller = ?3) ORDER BY time DESC, row DESC LIMIT ?4`,
      from,
      to,
      chiller,
      Math.min(count, LIMITS.alarm_journal_rows_max),
    )
    .map(journalEntry);
}

export function journalEntry(row: Row): JournalEntry {
  return {
    chiller: String(row['chiller']),
    sequence: Number(row['sequence']),
    id: String(row['alarm']),
    time: Number(row['time']),
    state: String(row['state']),
    priority: Number(row['priority']),
    detail: String(row['detail']),
  };
}
