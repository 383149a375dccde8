/** One writing into the store of a folder, whether an agent holds it or not. */
import path from 'node:path';
import { fail, ok, type Result } from '../base/result.ts';
import { lockFolder } from './lock.ts';
import { FILE_NAME } from './open.ts';
import { migrate } from './schema.ts';
import { faultCode, Store } from './store.ts';

export interface Occasion {
  /** ms since the epoch. */
  readonly now: number;
  /** First version of the store that has the table. */
  readonly version: number;
  /** What to do once an agent of an older version was started anew. */
  readonly again: string;
}

/** Faults: those of the store and of `work`; `history_in_use` where an agent of an older version holds the store. */
export function writeBeside<T>(folder: string, occasion: Occasion, work: (store: Store) => Result<T>): Result<T> {
  const file = path.join(folder, FILE_NAME);
  const lock = lockFolder(folder);
  if (!lock.ok && lock.fault.code !== 'history_in_use') return lock;
  let store: Store | null = null;
  try {
    store = new Store(file);
    const ready = lock.ok ? migrate(store, { file, now: occasion.now }) : hasTable(store, file, occasion);
    return ready.ok ? work(store) : ready;
  } catch (error) {
    const code = faultCode(error);
    if (code === null) throw error;
    return fail(code, `${file}: ${(error as Error).message}; nothing was written`);
  } finally {
    store?.close();
    if (lock.ok) lock.value.release();
  }
}

function hasTable(store: Store, file: string, { version, again }: Occasion): Result<number> {
  const found = Number(store.get('SELECT max(version) AS version FROM schema_version')?.['version'] ?? 0);
  if (found >= version) return ok(found);
  return fail(
    'history_in_use',
    `${file} is held by an agent of an older version: start that agent anew with this one, then ${again}`,
  );
}
