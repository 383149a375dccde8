/**
 * Every figure of every minute that the agent committed is in the store, once: over 30 minutes for which the store is
 * away, and a SIGKILL of the agent in their midst. The agent is whole and a process of its own, on a clock of 120 times
 * the pace; plant, store and their protocols are real. What is sent is counted from the agent's history, what arrived
 * by the store's own query interface.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import type { Now } from '../../../agent/web/types.ts';
import { startPlant, temporaryFolder } from '../../contract/agent/harness.ts';
import { type Stored, type StoreServer, startInflux, startVictoria } from './servers.ts';
import type { VictimWishes } from './victim.ts';

const VICTIM = new URL('./victim.ts', import.meta.url).pathname;
const SPEED = 120;
const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

interface Life {
  readonly child: ChildProcess;
  readonly url: string;
}

async function live(wishes: VictimWishes): Promise<Life> {
  const child = spawn(process.execPath, [VICTIM, JSON.stringify(wishes)], { stdio: ['ignore', 'pipe', 'inherit'] });
  endings.push(() => child.kill('SIGKILL'));
  const ended = once(child, 'exit').then(([code]) => {
    throw new Error(`the agent ended with ${code} before it served its page`);
  });
  ended.catch(() => {});
  const [url] = (await Promise.race([once(createInterface({ input: child.stdout }), 'line'), ended])) as [string];
  return { child, url };
}

async function die({ child }: Life, signal: NodeJS.Signals): Promise<void> {
  child.kill(signal);
  await once(child, 'exit');
}

/** Waits for what a living agent brings about. */
async function until({ child }: Life, so: () => Promise<boolean>): Promise<void> {
  while (!(await so())) {
    expect([child.exitCode, child.signalCode], 'the agent lives').toEqual([null, null]);
    await pause(100);
  }
}

async function sequenceOf({ url }: Life): Promise<number> {
  const { sequence } = (await (await fetch(`${url}/api/chillers/CH-1/now`)).json()) as Now;
  return sequence ?? 0;
}

async function reached(life: Life, wanted: number): Promise<void> {
  await until(life, async () => (await sequenceOf(life)) >= wanted);
}

async function waiting({ url }: Life): Promise<number> {
  const text = await (await fetch(`${url}/metrics`)).text();
  return Number(/^tonhour_outbox_waiting\{sink="influx"\} (\d+)/m.exec(text)?.[1]);
}

interface Detail {
  readonly value: number | null;
  readonly uncertainty: number | null;
  readonly quality: string;
}
interface Kept {
  readonly interval_s: number;
  readonly values: Readonly<Record<string, number | null>>;
  readonly uncertainty: Readonly<Record<string, number>>;
  readonly quality: Readonly<Record<string, { readonly quality: string }>>;
  readonly point_detail: Readonly<Record<string, Detail>>;
}

/** Series of the store without their units, `name time`, to the value that history kept. */
function sent(history: History): Map<string, number> {
  const all = new Map<string, number>();
  const rank = ['good', 'uncertain', 'bad'];
  for (const { sequence, time, record } of history.minutes({ chiller: 'CH-1', from: 0, to: Number.MAX_SAFE_INTEGER })) {
    const { interval_s, values, uncertainty, quality, point_detail } = JSON.parse(record) as Kept;
    const put = (kind: string, name: string, detail: Detail): void => {
      if (detail.value === null) return;
      all.set(`${kind}_value ${name} ${time}`, detail.value);
      all.set(`${kind}_quality ${name} ${time}`, rank.indexOf(detail.quality));
      if (detail.uncertainty !== null) all.set(`${kind}_uncertainty ${name} ${time}`, detail.uncertainty);
    };
    for (const [name, value] of Object.entries(values))
      put('tonhour', name, {
        value,
        uncertainty: uncertainty[name] ?? null,
        quality: quality[name]?.quality ?? 'good',
      });
    for (const [name, detail] of Object.entries(point_detail)) put('tonhour_point', name, detail);
    all.set(`tonhour_minute_sequence  ${time}`, sequence);
    all.set(`tonhour_minute_interval_s  ${time}`, interval_s);
  }
  return all;
}

function arrived(found: readonly Stored[]): Map<string, number> {
  return new Map(
    found.map(({ series, time, value }) => {
      const [, name = '', tags = ''] = /^([^{]+)\{(.*)\}$/.exec(series) ?? [];
      return [`${name} ${/(?:metric|point)=([^,]+)/.exec(tags)?.[1] ?? ''} ${time}`, value];
    }),
  );
}

test.each([
  ['victoria-metrics, v2 writes', startVictoria],
  ['influxdb 1.6, v1 writes', startInflux],
] as [string, () => Promise<StoreServer>][])(
  '%s: as many values read back as sent, over 30 minutes without the store and a kill -9',
  async (_name, start) => {
    const { folder, remove } = temporaryFolder();
    endings.push(remove);
    const server = await start();
    endings.push(() => server.stop());
    const plant = await startPlant({ speed: SPEED });
    endings.push(() => plant.stop());
    const history = path.join(folder, 'history');
    const { url, write } = server;
    const wishes = { modbusPort: plant.port, folder: history, url, write, speed: SPEED, origin: Date.now() };

    const first = await live(wishes);
    await until(first, async () => (await server.read('tonhour_minute')).length >= 6);
    await server.down();
    const away = await sequenceOf(first);
    await reached(first, away + 15);
    expect(await waiting(first)).toBeGreaterThanOrEqual(15);
    await die(first, 'SIGKILL');
    const second = await live(wishes);
    await reached(second, away + 31);
    expect(await waiting(second)).toBeGreaterThanOrEqual(30);
    await server.up();
    await reached(second, away + 35);
    await until(second, async () => (await waiting(second)) <= 1);
    await die(second, 'SIGTERM');

    const kept = must(openHistory({ folder: history }));
    const whole = sent(kept);
    const undelivered = kept.outbox.oldest('influx', 100);
    const counts = kept.outbox.counts('influx');
    kept.close();
    // The minute that ended while the agent was told to stop is still in the outbox, for its next start.
    for (const { payload } of undelivered) {
      const time = Date.parse((JSON.parse(payload) as { time: string }).time);
      for (const key of whole.keys()) if (key.endsWith(` ${time}`)) whole.delete(key);
    }
    expect(counts.waiting).toBeLessThanOrEqual(1);
    const found = await server.read('tonhour');
    const sequences = found.flatMap(({ series, value }) => (series.includes('_minute_sequence') ? [value] : []));
    expect(sequences).toEqual(Array.from({ length: sequences.length }, (_, index) => index + 1));
    expect(sequences.length).toBeGreaterThanOrEqual(away + 31);
    console.log({ minutes: sequences.length, sent: whole.size, read_back: found.length });
    expect(found.length).toBe(whole.size);
    expect(arrived(found)).toEqual(whole);
  },
  400_000,
);
