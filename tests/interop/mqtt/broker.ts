/** mosquitto as Debian ships it, for the tests that need a broker of somebody else's. */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { connect, createServer } from 'node:net';
import path from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { expect } from 'vitest';

/** Debian puts the broker where an ordinary user's PATH does not look. */
export const env = { ...process.env, PATH: `${process.env['PATH']}:/usr/sbin` };

/** mosquitto takes no port 0: a free one is found first. */
export async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  server.close();
  await once(server, 'close');
  return port;
}

/** Lines of its configuration: one port, a store in `folder`. */
export function configuration(folder: string, port: number): string[] {
  return [
    `listener ${port} 127.0.0.1`,
    'persistence true',
    `persistence_location ${folder}/`,
    // Started as root it would drop to a user of its own, who cannot write there.
    ...(process.getuid?.() === 0 ? ['user root'] : []),
  ];
}

/** Runs it on `mosquitto.conf` of the folder; settles once it takes connections. */
export async function startMosquitto(folder: string, port: number): Promise<ChildProcess> {
  const broker = spawn('mosquitto', ['-c', path.join(folder, 'mosquitto.conf')], { stdio: 'ignore', env });
  await once(broker, 'spawn');
  while (!(await answers(port))) {
    expect(broker.exitCode, 'mosquitto runs').toBeNull();
    await pause(20);
  }
  return broker;
}

function answers(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1', () => {
      socket.destroy();
      resolve(true);
    });
    socket.on('error', () => resolve(false));
  });
}

/**
 * SIGTERM lets a broker write its store. A subscriber has nothing to keep, and its handler of that signal takes locks
 * that it may hold already: it is ended with SIGKILL.
 */
export async function end(child: ChildProcess, signal: 'SIGTERM' | 'SIGKILL' = 'SIGTERM'): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  child.kill(signal);
  const last = setTimeout(() => child.kill('SIGKILL'), 20_000);
  await once(child, 'exit');
  clearTimeout(last);
}
