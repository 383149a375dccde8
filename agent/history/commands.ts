/**
 * Commands to alarms wait here for the next minute of their chiller, which takes them in and says so in its own
 * transaction: a kill between receipt and minute loses none, one between minute and answer applies none twice.
 */
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { writeBeside } from './beside.ts';
import type { Pending } from './pending.ts';
import { faultCode, type Store } from './store.ts';
import type { CommandEntry, MinuteCommit, StoredCommand } from './types.ts';

export class CommandQueue {
  readonly #store: () => Store;
  readonly #pending: Pending;

  constructor(store: () => Store, pending: Pending) {
    this.#store = store;
    this.#pending = pending;
  }

  /**
   * Writes a command down; flushed to the disk when it returns. `repeated`: the far end may have sent it before (it was
   * not answered then); where the same was received within the time that a broker keeps commands, it is not written
   * again. Faults: `alarm_command` where too many wait, and those of the store.
   */
  add(entry: CommandEntry, { repeated }: { readonly repeated: boolean }): Result<'stored' | 'known'> {
    return expected(() =>
      repeated && isKnown(this.#store(), entry) ? ok('known') : storeCommand(this.#store(), entry),
    );
  }

  /** Commands of a chiller that no minute took in yet, also none of those that wait in memory; oldest first. */
  waiting(chiller: string): Result<StoredCommand[]> {
    const taken = new Set(this.#pending.commands(chiller));
    return expected(() => ok(waitingCommands(this.#store(), chiller).filter(({ id }) => !taken.has(id))));
  }
}

function expected<T>(work: () => Result<T>): Result<T> {
  try {
    return work();
  } catch (error) {
    const code = faultCode(error);
    if (code === null) throw error;
    return fail(code, `commands of the store: ${(error as Error).message}`);
  }
}

function storeCommand(store: Store, { chiller, received, verb, payload }: CommandEntry): Result<'stored' | 'known'> {
  const waiting = Number(store.get('SELECT count(*) AS n FROM command WHERE applied IS NULL')?.['n']);
  if (waiting >= LIMITS.commands_waiting_max)
    return fail('alarm_command', `${verb}: ${waiting} commands wait for their minute already: send it again later`);
  store.run(
    'INSERT INTO command (received, verb, payload, chiller) VALUES (?, ?, ?, ?)',
    received,
    verb,
    payload,
    chiller,
  );
  return ok('stored');
}

function isKnown(store: Store, { verb, payload, received }: CommandEntry): boolean {
  const since = received - LIMITS.command_session_s * 1000;
  const sql = 'SELECT 1 FROM command WHERE verb = ? AND payload = ? AND received >= ? LIMIT 1';
  return store.get(sql, verb, payload, since) !== undefined;
}

function waitingCommands(store: Store, chiller: string): StoredCommand[] {
  return store.all('SELECT * FROM command WHERE applied IS NULL AND chiller = ? ORDER BY id', chiller).map((row) => ({
    id: Number(row['id']),
    chiller: String(row['chiller']),
    received: Number(row['received']),
    verb: String(row['verb']),
    payload: String(row['payload']),
  }));
}

/** Within the minute's transaction; `given`: of earlier minutes that were given up. */
export function markApplied(store: Store, { sequence, commands = [] }: MinuteCommit, given: readonly number[]): void {
  if (commands.length + given.length === 0) return;
  for (const id of [...given, ...commands]) store.run('UPDATE command SET applied = ? WHERE id = ?', sequence, id);
  store.run(
    'DELETE FROM command WHERE applied IS NOT NULL AND id <= (SELECT max(id) FROM command) - ?',
    LIMITS.commands_kept_max,
  );
}

/**
 * Writes a command into the store of a folder, beside the running agent or without one: the next minute takes it in.
 * Faults: as of `CommandQueue.add`; an agent of an older version that holds the store must be started anew first.
 */
export function appendCommand(folder: string, entry: CommandEntry): Result<'stored' | 'known'> {
  return writeBeside(folder, { now: entry.received, version: 3, again: 'send the command' }, (store) =>
    storeCommand(store, entry),
  );
}
