/**
 * One writer a folder: two agents on one history would both continue the same numbered stream. The lock is an open
 * exclusive transaction on a file beside the store, so the operating system lets go of it with the process, however
 * that ends; readers of the store itself (an export beside the running agent) are not held up.
 */
import { mkdirSync } from 'node:fs';
import path from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { fail, ok, type Result } from '../base/result.ts';
import { faultCode } from './store.ts';

export interface FolderLock {
  release(): void;
}

/**
 * Faults: `history_in_use` where another agent holds the folder, `history_io` and the like where it cannot be written.
 */
export function lockFolder(folder: string): Result<FolderLock> {
  const file = path.join(folder, 'writer.lock');
  let database: DatabaseSync | null = null;
  try {
    mkdirSync(folder, { recursive: true });
    database = new DatabaseSync(file, { timeout: 0 });
    database.exec('BEGIN EXCLUSIVE');
    const held = database;
    return ok({ release: () => held.isOpen && held.close() });
  } catch (error) {
    if (database?.isOpen === true) database.close();
    const code = faultCode(error);
    if (code === 'history_busy')
      return fail('history_in_use', `another agent writes to ${folder}: stop it, or give this one a folder of its own`);
    if (code !== null) return fail(code, `${file}: ${(error as Error).message}`);
    if ((error as NodeJS.ErrnoException).syscall === undefined) throw error;
    return fail('history_io', `${file}: ${(error as Error).message}; check the history folder and its rights`);
  }
}
