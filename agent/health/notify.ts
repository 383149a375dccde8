/**
 * Tells the service manager that the agent is ready, stopping, and alive: alive means that a minute completed, never
 * that a timer fired. Node opens no datagram sockets of the Unix family, so the message goes out through
 * `systemd-notify`, which waits until it was read; the unit needs `NotifyAccess=all`. Without NOTIFY_SOCKET in the
 * environment nothing happens.
 */
import { execFile } from 'node:child_process';
import { LIMITS } from '../base/limits.ts';

export interface Notifier {
  ready(status: string): Promise<void>;
  /** A minute completed: the watchdog is fed. Calls during a running one are folded into one more. */
  minuteDone(status: string): Promise<void>;
  stopping(): Promise<void>;
}

export interface NotifierOptions {
  /** NOTIFY_SOCKET of the environment. */
  readonly socket: string | undefined;
  readonly command?: string;
  /** Told once when the command cannot be run. */
  readonly onFailure: (reason: string) => void;
}

export function createNotifier({ socket, command = 'systemd-notify', onFailure }: NotifierOptions): Notifier {
  let failed = false;
  let running: Promise<void> | null = null;
  let waiting: readonly string[] | null = null;

  const run = (words: readonly string[]): Promise<void> =>
    new Promise((resolve) => {
      const options = { timeout: LIMITS.notify_ms_max, env: { PATH: '/usr/bin:/bin', NOTIFY_SOCKET: socket } };
      execFile(command, words, options, (error) => {
        if (error !== null && !failed) onFailure(`${command}: ${error.message.split('\n')[0]}`);
        failed ||= error !== null;
        resolve();
      });
    });

  // One process at a time; the newest words wait, older ones that wait are out of date.
  const send = async (words: readonly string[]): Promise<void> => {
    if (socket === undefined || socket === '') return;
    waiting = words;
    running ??= (async () => {
      for (; waiting !== null; ) {
        const next: readonly string[] = waiting;
        waiting = null;
        await run(next);
      }
      running = null;
    })();
    await running;
  };

  return {
    ready: (status) => send(['--ready', `--status=${status}`]),
    minuteDone: (status) => send(['WATCHDOG=1', `--status=${status}`]),
    stopping: () => send(['STOPPING=1']),
  };
}
