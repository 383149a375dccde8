// Goal: a full disk is said and counted, and the page lives on with new minutes. Method: the whole agent as a child
// process whose files may not grow beyond a bound (ulimit -f), as a full disk refuses; its page and its own metrics are
// asked over HTTP.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, expect, test } from 'vitest';
import type { Now } from '../../../agent/web/types.ts';
import { startPlant, temporaryFolder } from '../../contract/agent/harness.ts';

const VICTIM = new URL('./victim.ts', import.meta.url).pathname;
/** Blocks of 1024 bytes: room for the store and a few minutes. */
const BLOCKS = 700;

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

test('a full disk: trouble is told, failures are counted, minutes go on appearing on the page', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const plant = await startPlant();
  endings.push(() => plant.stop());
  const words = [process.execPath, VICTIM, String(plant.port), 'mqtt://127.0.0.1:1', folder];
  const child = spawn('bash', ['-c', `ulimit -f ${BLOCKS}; exec "$@"`, 'bash', ...words], {
    stdio: ['ignore', 'pipe', 'ignore'],
  });
  endings.push(async () => {
    child.kill('SIGKILL');
    if (child.exitCode === null && child.signalCode === null) await once(child, 'exit');
  });
  const [url] = (await once(createInterface({ input: child.stdout }), 'line')) as [string];

  const health = async (): Promise<{ healthy: boolean; trouble: string | null }> =>
    (await (await fetch(`${url}/healthz`)).json()) as { healthy: boolean; trouble: string | null };
  let said = await health();
  while (said.healthy) {
    await pause(200);
    said = await health();
  }
  expect(said.trouble).toMatch(/not stored/);

  const now = async (): Promise<Now> => (await (await fetch(`${url}/api/chillers/CH-1/now`)).json()) as Now;
  const first = await now();
  let later = first;
  while ((later.sequence ?? 0) < (first.sequence ?? 0) + 3) {
    await pause(200);
    later = await now();
  }
  expect(later.points['evaporator.pressure']?.quality).toBe('good');
  expect((await fetch(`${url}/now/CH-1`)).status).toBe(200);
  const metrics = await (await fetch(`${url}/metrics`)).text();
  expect(Number(/^tonhour_history_failures_total (\d+)$/m.exec(metrics)?.[1])).toBeGreaterThanOrEqual(3);
});
