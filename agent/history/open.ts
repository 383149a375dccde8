/**
 * Opening the store's file: a damaged one is put aside and what can be read of it is carried over, never a reason to
 * stand still.
 */
import { existsSync, mkdirSync, renameSync, statSync } from 'node:fs';
import path from 'node:path';
import type { SQLInputValue } from 'node:sqlite';
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { fileTime, migrate } from './schema.ts';
import { faultCode, type Row, Store, type StoreOptions } from './store.ts';

export const FILE_NAME = 'history.sqlite';

export interface Opened {
  readonly store: Store;
  /** Where a damaged file was put; null where none was. */
  readonly aside: string | null;
  /** Chillers whose state and sequence number could be carried over from it. */
  readonly salvaged: readonly string[];
}

export function openStore(folder: string, { now, ...options }: StoreOptions & { now: number }): Result<Opened> {
  const file = path.join(folder, FILE_NAME);
  try {
    mkdirSync(folder, { recursive: true });
    const first = openSound(file, now, options);
    if (first.ok) return ok({ store: first.value, aside: null, salvaged: [] });
    if (first.fault.code !== 'history_corrupt') return first;
    return replaceStore(folder, { now, ...options });
  } catch (error) {
    return openFault(file, error);
  }
}

/** Puts the file aside, starts a new one and carries over what can be read. */
export function replaceStore(folder: string, { now, ...options }: StoreOptions & { now: number }): Result<Opened> {
  const file = path.join(folder, FILE_NAME);
  try {
    const aside = putAside(file, now);
    const second = openSound(file, now, options);
    if (!second.ok) return second;
    return ok({ store: second.value, aside, salvaged: salvage(aside, second.value) });
  } catch (error) {
    return openFault(file, error);
  }
}

function openFault(file: string, error: unknown): Result<never> {
  const code = faultCode(error);
  if (code !== null) return fail(code, `${file}: ${(error as Error).message}`);
  // Making the folder or renaming the file: the file system's own refusals.
  if (typeof (error as NodeJS.ErrnoException).code === 'string' && (error as NodeJS.ErrnoException).syscall)
    return fail(
      (error as NodeJS.ErrnoException).code === 'ENOSPC' ? 'history_disk_full' : 'history_io',
      `${file}: ${(error as Error).message}; check the history folder and its rights`,
    );
  throw error;
}

function openSound(file: string, now: number, options: StoreOptions): Result<Store> {
  let store: Store | null = null;
  try {
    store = new Store(file, options);
    const migrated = migrate(store, { file, now });
    if (!migrated.ok) {
      store.close();
      return migrated;
    }
    const damage = damageOf(store, statSync(file).size);
    if (damage === null) return ok(store);
    store.close();
    return fail('history_corrupt', `${file}: ${damage}`);
  } catch (error) {
    store?.close();
    const code = faultCode(error);
    if (code === null) throw error;
    return fail(code, `${file}: ${(error as Error).message}`);
  }
}

/**
 * What is wrong with the file, or null. A small file is checked whole. A large one (minutes of reading on a gateway's
 * flash) only where the agent starts from: a damaged page of an old block then costs the queries that need it, counted
 * as failed reads.
 */
function damageOf(store: Store, bytes: number): string | null {
  if (bytes <= LIMITS.history_check_bytes_max) {
    const found = Object.values(store.get('PRAGMA quick_check(1)') ?? {})[0];
    return found === 'ok' ? null : String(found);
  }
  store.all('SELECT * FROM state');
  store.all('SELECT sink, count(*), sum(bytes) FROM outbox GROUP BY sink');
  store.all('SELECT chiller, max(sequence) FROM minute GROUP BY chiller');
  return null;
}

/** Renames the file and its companions; a name that is taken gets a number. */
function putAside(file: string, now: number): string {
  const base = `${file}.damaged-${fileTime(now)}`;
  let aside = base;
  for (let n = 2; existsSync(aside); n++) aside = `${base}-${n}`;
  for (const ending of ['', '-wal', '-shm']) if (existsSync(file + ending)) renameSync(file + ending, aside + ending);
  return aside;
}

/**
 * State and waiting messages, where the damaged file still gives them: the sequence then goes on unbroken, and what was
 * not sent is sent. Also what seasons need and nothing can give again.
 */
function salvage(aside: string, store: Store): string[] {
  let damaged: Store | null = null;
  const salvaged: string[] = [];
  try {
    damaged = new Store(aside);
    for (const row of copyRows(damaged, store, 'state', 'chiller')) salvaged.push(String(row['chiller']));
    copyRows(damaged, store, 'outbox', 'id');
    copyRows(damaged, store, 'command', 'id');
    copyRows(damaged, store, 'maintenance', 'id');
    copyRows(damaged, store, 'season_hour', 'id');
  } catch (error) {
    if (!isDamage(error)) throw error;
  } finally {
    damaged?.close();
  }
  return salvaged;
}

type Salvaged = 'state' | 'outbox' | 'command' | 'maintenance' | 'season_hour';

/** Copies a table some rows at a time in the order of its key, until its end or the first page that cannot be read. */
function copyRows(from: Store, to: Store, table: Salvaged, key: string): Row[] {
  const copied: Row[] = [];
  try {
    for (let last: unknown = null; ; ) {
      const rows = from.all(
        `SELECT * FROM ${table} WHERE ?1 IS NULL OR ${key} > ?1 ORDER BY ${key} LIMIT 64`,
        last as SQLInputValue,
      );
      if (rows.length === 0) return copied;
      to.transaction(() => {
        for (const row of rows) {
          const names = Object.keys(row);
          to.run(
            `INSERT INTO ${table} (${names.join(', ')}) VALUES (${names.map(() => '?').join(', ')})`,
            ...(Object.values(row) as SQLInputValue[]),
          );
        }
      });
      for (const row of rows) copied.push({ [key]: row[key] });
      last = rows.at(-1)?.[key];
    }
  } catch (error) {
    if (!isDamage(error)) throw error;
    return copied;
  }
}

/** An expected failure of a damaged file: SQLite's own codes, or a table that is not there. */
function isDamage(error: unknown): boolean {
  return faultCode(error) !== null || /no such (table|column)/.test((error as Error).message);
}
