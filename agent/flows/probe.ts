/** How a child is doing, asked from outside: whether it answers HTTP, and how much memory it holds. */
import { readFile } from 'node:fs/promises';
import { get } from 'node:http';

/** Whether anything answers a request at all within `ms`, whatever it says. */
export function answers({ host, port }: { host: string; port: number }, ms: number): Promise<boolean> {
  return new Promise((resolve) => {
    const request = get({ host: reachable(host), port, path: '/', agent: false, timeout: ms }, (response) => {
      resolve(true);
      response.destroy();
    });
    request.on('timeout', () => request.destroy());
    request.on('error', () => resolve(false));
    request.on('close', () => resolve(false));
  });
}

/** An address that listens everywhere is asked on loopback. */
function reachable(host: string): string {
  if (host === '0.0.0.0') return '127.0.0.1';
  return host === '::' ? '::1' : host;
}

/** Resident memory of a process, MB; null where the system does not tell (other than Linux) or it is gone. */
export async function residentMb(pid: number): Promise<number | null> {
  try {
    const found = /^VmRSS:\s+(\d+) kB$/m.exec(await readFile(`/proc/${pid}/status`, 'utf8'));
    return found === null ? null : Number(found[1]) / 1024;
  } catch {
    return null;
  }
}
