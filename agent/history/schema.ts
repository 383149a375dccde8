/** Tables of the store by version, and how an older file becomes a newer one. */

import { fail, ok, type Result } from '../base/result.ts';
import { rfc3339 } from '../base/time.ts';
import type { Store } from './store.ts';

/**
 * Step n makes version n + 1 of version n. Never change a step that was shipped: add one.
 *
 * Minutes live twice as long as they are looked at: the newest as the JSON they came in (one small row a minute, read
 * whole), older ones packed by the block, a row per block and name, the column as deflated JSON. Numbers of six digits
 * take about three bytes that way, a tenth of a JSON row, and a month of one metric is some hundred small rows
 * (tests/bench/history measures both).
 */
export const SCHEMA: readonly string[] = [
  `
  CREATE TABLE state (
    chiller TEXT PRIMARY KEY, sequence INTEGER NOT NULL, time INTEGER NOT NULL, state TEXT NOT NULL
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE minute (
    chiller TEXT NOT NULL, sequence INTEGER NOT NULL, time INTEGER NOT NULL, record TEXT NOT NULL,
    UNIQUE (chiller, sequence)
  ) STRICT;

  CREATE TABLE name (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;
  CREATE TABLE block (
    id INTEGER PRIMARY KEY, chiller TEXT NOT NULL, first_sequence INTEGER NOT NULL, last_sequence INTEGER NOT NULL,
    first_time INTEGER NOT NULL, last_time INTEGER NOT NULL, minutes INTEGER NOT NULL, times BLOB NOT NULL, rest BLOB NOT NULL
  ) STRICT;
  CREATE INDEX block_order ON block (chiller, first_sequence);
  CREATE TABLE packed (
    block INTEGER NOT NULL, kind INTEGER NOT NULL, name INTEGER NOT NULL, data BLOB NOT NULL,
    PRIMARY KEY (block, kind, name)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE fast (
    chiller TEXT NOT NULL, point TEXT NOT NULL, sequence INTEGER NOT NULL, first_time INTEGER NOT NULL, last_time INTEGER NOT NULL,
    data BLOB NOT NULL, UNIQUE (chiller, point, sequence)
  ) STRICT;

  CREATE TABLE journal (
    row INTEGER PRIMARY KEY, chiller TEXT NOT NULL, sequence INTEGER NOT NULL, alarm TEXT NOT NULL, time INTEGER NOT NULL,
    state TEXT NOT NULL, priority INTEGER NOT NULL, detail TEXT NOT NULL
  ) STRICT;
  CREATE INDEX journal_time ON journal (time);
  CREATE TABLE alarm (
    chiller TEXT NOT NULL, alarm TEXT NOT NULL, sequence INTEGER NOT NULL, time INTEGER NOT NULL, state TEXT NOT NULL,
    priority INTEGER NOT NULL, detail TEXT NOT NULL, PRIMARY KEY (chiller, alarm)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE outbox (
    id INTEGER PRIMARY KEY AUTOINCREMENT, position INTEGER NOT NULL, sink TEXT NOT NULL, address TEXT NOT NULL,
    payload TEXT NOT NULL, retain INTEGER NOT NULL, chiller TEXT NOT NULL, sequence INTEGER, bytes INTEGER NOT NULL,
    gap_from INTEGER, gap_count INTEGER
  ) STRICT;
  CREATE INDEX outbox_order ON outbox (sink, position, id);
  CREATE INDEX outbox_gap ON outbox (sink, address) WHERE gap_count IS NOT NULL;
  `,
  // Hours by UTC, as sums of their minutes; and what was done to a machine, which nobody changes afterwards.
  `
  CREATE TABLE season_hour (
    id INTEGER PRIMARY KEY, chiller TEXT NOT NULL, start INTEGER NOT NULL, form INTEGER NOT NULL, sums TEXT NOT NULL,
    UNIQUE (chiller, start)
  ) STRICT;
  CREATE INDEX block_time ON block (chiller, last_time);

  CREATE TABLE maintenance (
    id INTEGER PRIMARY KEY AUTOINCREMENT, chiller TEXT NOT NULL, time INTEGER NOT NULL, entered INTEGER NOT NULL,
    kind TEXT NOT NULL, text TEXT NOT NULL, mass_kg REAL
  ) STRICT;
  CREATE INDEX maintenance_time ON maintenance (chiller, time);
  CREATE TRIGGER maintenance_unchanged BEFORE UPDATE ON maintenance
    BEGIN SELECT RAISE(ABORT, 'the maintenance log only grows'); END;
  CREATE TRIGGER maintenance_kept BEFORE DELETE ON maintenance
    BEGIN SELECT RAISE(ABORT, 'the maintenance log only grows'); END;
  `,
  // What people commanded of alarms, as it came; 'applied': sequence number of the minute that took it in.
  `
  CREATE TABLE command (
    id INTEGER PRIMARY KEY AUTOINCREMENT, received INTEGER NOT NULL, verb TEXT NOT NULL, payload TEXT NOT NULL,
    chiller TEXT NOT NULL, applied INTEGER
  ) STRICT;
  CREATE INDEX command_waiting ON command (chiller, id) WHERE applied IS NULL;
  `,
];

/**
 * Brings an open store to the newest version. A newer file is refused; an older one is copied aside before it is
 * touched.
 */
export function migrate(
  store: Store,
  { file, now, steps = SCHEMA }: { file: string; now: number; steps?: readonly string[] },
): Result<number> {
  store.exec('CREATE TABLE IF NOT EXISTS schema_version (version INTEGER NOT NULL, applied TEXT NOT NULL) STRICT');
  const found = Number(store.get('SELECT max(version) AS version FROM schema_version')?.['version'] ?? 0);
  if (found > steps.length)
    return fail(
      'history_newer',
      `${file} is of version ${found}, this agent knows up to ${steps.length}: install the agent that wrote it, or name another history folder`,
    );
  if (found === steps.length) return ok(found);
  if (found > 0) store.run('VACUUM INTO ?', `${file}.version-${found}-${fileTime(now)}`);
  for (let version = found; version < steps.length; version++)
    store.transaction(() => {
      store.exec(steps[version] as string);
      store.run('INSERT INTO schema_version VALUES (?, ?)', version + 1, rfc3339(now));
    });
  return ok(steps.length);
}

/** An instant as part of a file name: sorts by time, no characters that a file system minds. */
export function fileTime(time: number): string {
  return rfc3339(time).replace(/[-:.]/g, '');
}
