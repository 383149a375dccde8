/**
 * A thin layer over node:sqlite: prepared statements by their text, one transaction at a time, errors as codes of the
 * project.
 */
import { DatabaseSync, type SQLInputValue, type StatementSync } from 'node:sqlite';
import type { ErrorCode } from '../base/errors.ts';
import { LIMITS } from '../base/limits.ts';
import { assert } from '../base/result.ts';
import type { Transaction, Transactional } from './types.ts';

export type Row = Record<string, unknown>;

export interface StoreOptions {
  readonly transaction?: Transaction | undefined;
  /** For a reader beside the running agent: nothing is made or changed. */
  readonly readOnly?: boolean;
}

export class Store {
  readonly #database: DatabaseSync;
  readonly #statements = new Map<string, StatementSync>();
  readonly #transaction: Transaction;

  constructor(file: string, { transaction = oneTransaction, readOnly = false }: StoreOptions = {}) {
    this.#database = new DatabaseSync(file, { timeout: LIMITS.history_busy_ms_max, readOnly });
    this.#transaction = transaction;
    if (readOnly) return;
    try {
      // WAL: readers (an export beside the running agent) never wait for the writer, and a minute is one append and one
      // flush.
      this.exec('PRAGMA journal_mode = WAL');
      this.durable(true);
      this.exec('PRAGMA journal_size_limit = 16777216');
    } catch (error) {
      this.#database.close();
      throw error;
    }
  }

  /**
   * Durable (synchronous FULL): a commit is flushed to the disk before it returns. A minute must be, because it is
   * published next: after a power cut an unflushed one would come back under the same sequence number with another
   * content. Not durable (NORMAL): a power cut may undo the newest commits, never damage the file; enough for a settled
   * message, which is then sent once more.
   */
  durable(on: boolean): void {
    this.exec(on ? 'PRAGMA synchronous = FULL' : 'PRAGMA synchronous = NORMAL');
  }

  exec(sql: string): void {
    this.#database.exec(sql);
  }

  run(sql: string, ...values: SQLInputValue[]): { changes: number; lastInsertRowid: number } {
    const { changes, lastInsertRowid } = this.#prepared(sql).run(...values);
    return { changes: Number(changes), lastInsertRowid: Number(lastInsertRowid) };
  }

  get(sql: string, ...values: SQLInputValue[]): Row | undefined {
    return this.#prepared(sql).get(...values);
  }

  all(sql: string, ...values: SQLInputValue[]): Row[] {
    return this.#prepared(sql).all(...values);
  }

  transaction(work: () => void): void {
    this.#transaction(this.#database, work);
  }

  close(): void {
    this.#statements.clear();
    if (this.#database.isOpen) this.#database.close();
  }

  #prepared(sql: string): StatementSync {
    let statement = this.#statements.get(sql);
    if (statement === undefined) {
      // Statements are literals of this room: a growing number means that values were written into them.
      assert(this.#statements.size < 200, 'statements are literals');
      statement = this.#database.prepare(sql);
      this.#statements.set(sql, statement);
    }
    return statement;
  }
}

/** All or nothing. SQLite ends the transaction by itself on a full disk and the like, so ask before rolling back. */
export function oneTransaction(database: Transactional, work: () => void): void {
  database.exec('BEGIN IMMEDIATE');
  try {
    work();
    database.exec('COMMIT');
  } catch (error) {
    if (database.isTransaction) database.exec('ROLLBACK');
    throw error;
  }
}

/**
 * Primary result codes of SQLite (https://www.sqlite.org/rescode.html) that a sound program meets; others are its own
 * errors.
 */
const CODES: Readonly<Record<number, ErrorCode>> = {
  3: 'history_io', // PERM
  5: 'history_busy', // BUSY
  6: 'history_busy', // LOCKED
  8: 'history_io', // READONLY
  10: 'history_io', // IOERR
  11: 'history_corrupt', // CORRUPT
  13: 'history_disk_full', // FULL
  14: 'history_io', // CANTOPEN
  22: 'history_io', // NOLFS
  23: 'history_io', // AUTH
  26: 'history_corrupt', // NOTADB
};

/** The project's code of what SQLite threw, or null where it is not an expected failure. */
export function faultCode(error: unknown): ErrorCode | null {
  const extended = (error as { errcode?: unknown } | null)?.errcode;
  return typeof extended === 'number' ? (CODES[extended & 0xff] ?? null) : null;
}
