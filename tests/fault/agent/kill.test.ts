// Goal: the agent may die at any moment of a minute's way, and a subscriber can still prove that nothing is missing
// and nothing is told in two ways. Method: the whole agent as a child process with a real plant, a real broker and a
// real store; it ends itself by SIGKILL at a named moment, is started again, and at the end lives until everything is
// delivered.
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import mqtt from 'mqtt';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { type Broker, startBroker } from '../../../agent/sinks/broker.ts';
import { type PlantProcess, startPlant, temporaryFolder } from '../../contract/agent/harness.ts';

const VICTIM = new URL('./victim.ts', import.meta.url).pathname;
const MOMENTS = ['before_commit', 'inside_transaction', 'after_commit', 'after_send', 'after_acknowledge'] as const;

let plant: PlantProcess;
let broker: Broker;

beforeAll(async () => {
  plant = await startPlant();
  broker = await startBroker();
});
afterAll(async () => {
  await plant.stop();
  await broker.stop();
});

interface Seen {
  readonly order: number[];
  /** Distinct payloads of each sequence number. */
  readonly payloads: Map<number, Set<string>>;
}

/** What an independent subscriber of the broker keeps, keyed by sequence. */
async function subscriber(): Promise<{
  seen: Seen;
  until: (reached: (seen: Seen) => boolean) => Promise<void>;
  end: () => Promise<void>;
}> {
  const seen: Seen = { order: [], payloads: new Map() };
  const client = await mqtt.connectAsync(broker.url, { protocolVersion: 4 });
  let look = (): void => {};
  client.on('message', (_topic, body) => {
    const { sequence } = JSON.parse(body.toString()) as { sequence: number };
    seen.order.push(sequence);
    const known = seen.payloads.get(sequence) ?? new Set();
    seen.payloads.set(sequence, known.add(body.toString()));
    look();
  });
  await client.subscribeAsync('tonhour/+/+/metrics', { qos: 1 });
  return {
    seen,
    until: (reached) =>
      new Promise((resolve) => {
        look = () => reached(seen) && resolve();
        look();
      }),
    end: () => client.endAsync(),
  };
}

function startVictim(folder: string, moment: string, passes: number, torn = ''): ChildProcess {
  const args = [VICTIM, String(plant.port), broker.url, folder, moment, String(passes), torn];
  return spawn(process.execPath, args, { stdio: ['ignore', 'ignore', 'inherit'] });
}

/** Everything that would break the promise of the numbered stream and of the store. */
function violations(folder: string, seen: Seen): string[] {
  const found: string[] = [];
  const history = must(openHistory({ folder }));
  const stored = [...history.minutes({ chiller: 'CH-1', from: 0, to: Number.MAX_SAFE_INTEGER })].map(
    ({ sequence }) => sequence,
  );
  const state = must(history.loadState('CH-1'));
  history.close();
  const last = Math.max(...seen.payloads.keys());
  for (let sequence = 1; sequence <= last; sequence += 1) {
    if (!seen.payloads.has(sequence)) found.push(`sequence ${sequence} was never delivered`);
    if ((seen.payloads.get(sequence)?.size ?? 0) > 1) found.push(`sequence ${sequence} was told in two ways`);
    const times = stored.filter((each) => each === sequence).length;
    if (times !== 1) found.push(`sequence ${sequence} is stored ${times} times`);
  }
  if (state === null || state.sequence !== Math.max(...stored))
    found.push(`state ${state?.sequence} is not the newest minute`);
  const firsts = [...new Set(seen.order)];
  if (firsts.some((sequence, i) => i > 0 && sequence < (firsts[i - 1] as number))) found.push('delivered out of order');
  return found;
}

describe('kill -9 of the whole agent', () => {
  test('at every moment of the way: nothing missing, nothing twice, order kept', async () => {
    const { folder, remove } = temporaryFolder();
    const watcher = await subscriber();
    try {
      for (const moment of MOMENTS) {
        const victim = startVictim(folder, moment, 1);
        const [, signal] = await once(victim, 'exit');
        expect(signal, `died by its own hand ${moment}`).toBe('SIGKILL');
      }
      const before = Math.max(...watcher.seen.payloads.keys());
      const survivor = startVictim(folder, '-', 0);
      await watcher.until(({ payloads }) => payloads.has(before + 3));
      survivor.kill('SIGTERM');
      await once(survivor, 'exit');
      expect(violations(folder, watcher.seen)).toEqual([]);
      expect(watcher.seen.payloads.size).toBeGreaterThanOrEqual(8);
    } finally {
      await watcher.end();
      remove();
    }
  });

  test('with the transaction taken out, dying inside it breaks the promise: the check above can fail', async () => {
    const { folder, remove } = temporaryFolder();
    const watcher = await subscriber();
    try {
      const victim = startVictim(folder, 'inside_transaction', 1, 'torn');
      await once(victim, 'exit');
      const survivor = startVictim(folder, '-', 0);
      const ended = once(survivor, 'exit');
      const delivered = watcher.until(({ payloads }) => payloads.has(4));
      await Promise.race([ended, delivered]);
      survivor.kill('SIGKILL');
      await ended;
      expect(violations(folder, watcher.seen)).not.toEqual([]);
    } finally {
      await watcher.end();
      remove();
    }
  });
});
