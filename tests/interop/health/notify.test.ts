/**
 * Notifications through the real systemd-notify (Debian: systemd) to a real datagram socket, which Python opens because
 * Node cannot.
 */
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { createNotifier } from '../../../agent/health/notify.ts';

// Prints each datagram as one line of JSON; closes the descriptors that come with a barrier, which is how the sender
// learns that it was read.
const MANAGER = `
import array, json, os, socket, sys
s = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
s.bind(sys.argv[1])
print(json.dumps("bound"), flush=True)
while True:
    data, ancillary, _, _ = s.recvmsg(4096, 1024)
    for level, kind, fds in ancillary:
        if kind == socket.SCM_RIGHTS:
            for fd in array.array("i", fds): os.close(fd)
    print(json.dumps(data.decode()), flush=True)
`;

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tonhour-notify-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

test('the service manager hears ready, each minute and stopping', async () => {
  const socket = join(folder, 'notify.sock');
  const manager = spawn('/usr/bin/python3', ['-c', MANAGER, socket], { stdio: ['ignore', 'pipe', 'inherit'] });
  const lines = createInterface({ input: manager.stdout })[Symbol.asyncIterator]();
  const next = async (): Promise<string> => JSON.parse(String((await lines.next()).value));
  /** The words of the next message that is not a barrier. */
  const heard = async (): Promise<string[]> => {
    for (let text = await next(); ; text = await next())
      if (!text.startsWith('BARRIER=')) return text.trim().split('\n');
  };
  try {
    expect(await next()).toBe('bound');
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
    manager.kill();
  }
});
