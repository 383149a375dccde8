/** The fold's state of each chiller, and a copy of the whole store before it is brought to a newer version. */
import { existsSync, readdirSync } from 'node:fs';
import path from 'node:path';
import { fail, ok, type Result } from '../base/result.ts';
import { FILE_NAME } from './open.ts';
import { fileTime } from './schema.ts';
import { faultCode, type Store } from './store.ts';
import type { StoredState } from './types.ts';

export function loadState(store: Store, chiller: string): StoredState | null {
  const row = store.get('SELECT state, sequence, time FROM state WHERE chiller = ?', chiller);
  if (row === undefined) return null;
  return { state: String(row['state']), sequence: Number(row['sequence']), time: Number(row['time']) };
}

/**
 * Copies the store beside itself as `history.sqlite.LABEL-TIME`; one copy a label, so that the second chiller's and the
 * next start's find it there. Gives its path. A fault where it cannot be made: nothing is changed without it.
 */
export function copyAside(
  store: Store,
  { folder, label, now }: { readonly folder: string; readonly label: string; readonly now: number },
): Result<string> {
  const prefix = `${FILE_NAME}.${label}-`;
  const before = existsSync(folder) ? readdirSync(folder).find((name) => name.startsWith(prefix)) : undefined;
  if (before !== undefined) return ok(path.join(folder, before));
  const file = path.join(folder, `${prefix}${fileTime(now)}`);
  try {
    store.run('VACUUM INTO ?', file);
    return ok(file);
  } catch (error) {
    const code = faultCode(error);
    if (code === null) throw error;
    return fail(code, `no copy of the store could be made before it is changed: ${(error as Error).message} (${file})`);
  }
}
