/**
 * The whole agent as a service manager starts it: a process with NOTIFY_SOCKET, the real systemd-notify (Debian:
 * systemd). Ready is said once, the watchdog is fed with each minute and names it, and a SIGTERM ends in order.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';
import { startManager } from './manager.ts';

const LAUNCHER = new URL('../../../agent/launch.cjs', import.meta.url).pathname;
const EXAMPLE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

test('ready, then a minute at each feed of the watchdog, then stopping; exit code 0', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'tonhour-service-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  // One machine that nobody answers for, no broker, intervals of a second: minutes complete all the same.
  const [first = ''] = readFileSync(EXAMPLE, 'utf8').split('\n  - id: CH-2');
  const site = first
    .replace(/\nmqtt:\n(?: {2}.*\n)+/, '\n')
    .replace(/^ {2}port: \d+.*$/m, '  port: 0')
    .replace(/^interval_s:.*$/m, '')
    .replace('\nchillers:', '\ninterval_s: 1\nchillers:');
  writeFileSync(join(folder, 'site.yaml'), `${site}\n`);
  const socket = join(folder, 'notify.sock');
  const manager = await startManager(socket);
  onTestFinished(() => manager.stop());
  const agent = spawn(process.execPath, [LAUNCHER, 'run', '--config', join(folder, 'site.yaml')], {
    cwd: folder,
    stdio: 'ignore',
    env: { ...process.env, NOTIFY_SOCKET: socket },
  });
  onTestFinished(() => void agent.kill('SIGKILL'));
  const ended = once(agent, 'exit');
  expect(await manager.heard()).toEqual(expect.arrayContaining(['READY=1']));
  const minutes = new Set<string>();
  while (minutes.size < 3) {
    const words = await manager.heard();
    expect(words).toContain('WATCHDOG=1');
    minutes.add(words.find((word) => word.startsWith('STATUS=minute ')) ?? 'none');
  }
  expect(minutes).not.toContain('none');
  agent.kill('SIGTERM');
  for (let words = await manager.heard(); !words.includes('STOPPING=1'); ) words = await manager.heard();
  expect(await ended).toEqual([0, null]);
});
