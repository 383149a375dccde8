/**
 * Notifications through the real systemd-notify (Debian: systemd) to a real datagram socket, which Python opens because
 * Node cannot.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { createNotifier } from '../../../agent/health/notify.ts';
import { startManager } from './manager.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tonhour-notify-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

test('the service manager hears ready, each minute and stopping', async () => {
  const socket = join(folder, 'notify.sock');
  const manager = await startManager(socket);
  const { heard } = manager;
  try {
    const failures: string[] = [];
    const tell = createNotifier({ socket, onFailure: (reason) => failures.push(reason) });
    await tell.ready('CH-1 connected');
    expect(await heard()).toEqual(expect.arrayContaining(['READY=1', 'STATUS=CH-1 connected']));
    await tell.minuteDone('sequence 7');
    expect(await heard()).toEqual(expect.arrayContaining(['WATCHDOG=1', 'STATUS=sequence 7']));
    await tell.stopping();
    expect(await heard()).toEqual(expect.arrayContaining(['STOPPING=1']));
    expect(failures).toEqual([]);
  } finally {
    manager.stop();
  }
});
