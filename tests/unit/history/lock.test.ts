// Goal: one writer a folder, and a writer that was killed holds nobody up. Method: another process takes the lock and
// dies by SIGKILL.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { lockFolder } from '../../../agent/history/lock.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'tonhour-lock-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** Keeps hold of the lock as the agent does: a lock that nothing refers to is collected, and its file with it. */
const HOLDER = `
  import { lockFolder } from ${JSON.stringify(new URL('../../../agent/history/lock.ts', import.meta.url).href)};
  const lock = lockFolder(process.argv[1]);
  console.log(lock.ok ? 'held' : 'refused');
  setInterval(() => lock.ok, 1000);
`;

test('a second writer is refused by name, in this process and from another', async () => {
  const lock = must(lockFolder(folder));
  expect(lockFolder(folder)).toMatchObject({ ok: false, fault: { code: 'history_in_use' } });
  const other = spawn(process.execPath, ['--input-type=module', '-e', HOLDER, folder], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const [said] = (await once(createInterface({ input: other.stdout }), 'line')) as [string];
  other.kill('SIGKILL');
  expect(said).toBe('refused');
  lock.release();
  lock.release();
  must(lockFolder(folder)).release();
});

test('a killed writer lets go', async () => {
  const other = spawn(process.execPath, ['--input-type=module', '-e', HOLDER, folder], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const [said] = (await once(createInterface({ input: other.stdout }), 'line')) as [string];
  expect(said).toBe('held');
  expect(lockFolder(folder).ok).toBe(false);
  other.kill('SIGKILL');
  await once(other, 'exit');
  must(lockFolder(folder)).release();
});

test('a folder that cannot be made is a fault, not a crash', () => {
  const file = path.join(folder, 'a-file');
  writeFileSync(file, '');
  expect(lockFolder(path.join(file, 'below'))).toMatchObject({ ok: false, fault: { code: 'history_io' } });
});
