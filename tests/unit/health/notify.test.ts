/**
 * Notifications of the service manager: what is said, in which order, folded while one is under way. The command is a
 * real process that writes down what it got.
 */
import { chmodSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { createNotifier } from '../../../agent/health/notify.ts';

let folder = '';
let failures: string[] = [];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tonhour-notify-'));
  failures = [];
  writeFileSync(join(folder, 'notify'), `#!/bin/sh\necho "$NOTIFY_SOCKET $*" >> "${folder}/said"\n`);
  chmodSync(join(folder, 'notify'), 0o755);
});

afterEach(() => rmSync(folder, { recursive: true, force: true }));

const notifier = (socket: string | undefined, command = join(folder, 'notify')) =>
  createNotifier({ socket, command, onFailure: (reason) => failures.push(reason) });
const said = () => readFileSync(join(folder, 'said'), 'utf8').trim().split('\n');

test('ready, a minute, stopping, in order', async () => {
  const tell = notifier('/run/somewhere');
  await tell.ready('CH-1: connected');
  await tell.minuteDone('sequence 1');
  await tell.stopping();
  expect(said()).toEqual([
    '/run/somewhere --ready --status=CH-1: connected',
    '/run/somewhere WATCHDOG=1 --status=sequence 1',
    '/run/somewhere STOPPING=1',
  ]);
});

test('minutes that complete while one is told are folded into the newest', async () => {
  const tell = notifier('/run/somewhere');
  await Promise.all([1, 2, 3, 4].map((sequence) => tell.minuteDone(`sequence ${sequence}`)));
  expect(said()).toEqual([
    '/run/somewhere WATCHDOG=1 --status=sequence 1',
    '/run/somewhere WATCHDOG=1 --status=sequence 4',
  ]);
});

test('without a socket nothing is run', async () => {
  await notifier(undefined).ready('x');
  await notifier('').minuteDone('x');
  expect(said).toThrow('ENOENT');
  expect(failures).toEqual([]);
});

test('a command that is not there is told once and costs nothing else', async () => {
  const tell = notifier('/run/somewhere', join(folder, 'gone'));
  await tell.ready('x');
  await tell.minuteDone('y');
  expect(failures).toEqual([expect.stringContaining('gone')]);
});
