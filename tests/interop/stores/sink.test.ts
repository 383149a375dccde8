/**
 * The sink against real stores: victoria-metrics (v2 writes) and influxdb 1.6 (v1 writes), both of Debian. What is read
 * back by the store's own query interface is what was committed, over a store that is away, a connection that goes
 * dead, and writes that are sent twice.
 */
import { describe, expect, onTestFinished, test, vi } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import type { History } from '../../../agent/history/history.ts';
import { InfluxSink } from '../../../agent/sinks/influx.ts';
import type { InfluxOptions } from '../../../agent/sinks/influx-options.ts';
import { startProxy } from '../../fault/tcp-proxy.ts';
import { minute, open, START } from '../../unit/history/helpers.ts';
import { storeMinute, VALUES_PER_MINUTE } from '../../unit/history/store-minutes.ts';
import { type Stored, type StoreServer, startInflux, startVictoria } from './servers.ts';

const WAIT = { timeout: 60_000, interval: 20 };
const CHILLERS = ['CH-1', 'CH-2'] as const;

async function rigOf(start: () => Promise<StoreServer>) {
  const server = await start();
  onTestFinished(() => server.stop());
  const proxy = await startProxy(server.port);
  onTestFinished(() => proxy.stop());
  const make = (history: History, options: Partial<InfluxOptions> = {}): InfluxSink => {
    const sink = new InfluxSink({
      outbox: history.outbox,
      url: `http://127.0.0.1:${proxy.port}`,
      write: server.write,
      site: 'kestrel-quay',
      measurement: 'tonhour',
      ...options,
      limits: { backoff_ms_min: 20, backoff_ms_max: 100, ...options.limits },
    });
    must(sink.init());
    onTestFinished(() => sink.stop());
    sink.start();
    return sink;
  };
  return { server, proxy, make };
}

function commit(history: History, from: number, to: number): void {
  for (let sequence = from; sequence <= to; sequence++)
    for (const chiller of CHILLERS)
      must(history.commitMinute(minute(sequence, { chiller, messages: [storeMinute(sequence, chiller)] })));
}

function drained(history: History): Promise<boolean> {
  return vi.waitUntil(() => history.outbox.counts('influx').waiting === 0, WAIT);
}

/** What both chillers' minutes `from` to `to` must be in the store, written down by hand. */
function expectMinutes(found: readonly Stored[], from: number, to: number): void {
  const wanted: Stored[] = [];
  for (let sequence = from; sequence <= to; sequence++)
    for (const chiller of CHILLERS) {
      const time = START + sequence * 60_000;
      const power = `{chiller=${chiller},metric=unit.power,site=kestrel-quay,unit=kW}`;
      const running = `{chiller=${chiller},point=unit.running,site=kestrel-quay,unit=state}`;
      const whole = `{chiller=${chiller},site=kestrel-quay}`;
      for (const [series, value] of [
        [`tonhour_value${power}`, sequence + 0.25],
        [`tonhour_uncertainty${power}`, 0.5],
        [`tonhour_quality${power}`, 0],
        [`tonhour_point_value${running}`, 1],
        [`tonhour_point_quality${running}`, 1],
        [`tonhour_minute_sequence${whole}`, sequence],
        [`tonhour_minute_interval_s${whole}`, 60],
      ] as const)
        wanted.push({ time, series, value });
    }
  wanted.sort((a, b) => a.time - b.time || (a.series < b.series ? -1 : 1));
  expect(found.length).toBe(CHILLERS.length * (to - from + 1) * VALUES_PER_MINUTE);
  expect(found).toEqual(wanted);
}

describe.each([
  ['victoria-metrics, v2 writes', startVictoria],
  ['influxdb 1.6, v1 writes', startInflux],
] as const)('%s', (_name, start) => {
  test('a store that is not there at the start gets everything when it appears, and what was away in its midst', async () => {
    const { server, make } = await rigOf(start);
    await server.down();
    const history = open();
    commit(history, 1, 40);
    const reports: string[] = [];
    const sink = make(history, { report: ({ code }) => reports.push(code) });
    await vi.waitUntil(() => sink.status().state === 'lost', WAIT);
    expect(sink.status().code).toBe('influx_unreachable');
    await server.up();
    await drained(history);
    await server.down();
    commit(history, 41, 80);
    sink.wake();
    await vi.waitUntil(() => sink.status().state === 'lost', WAIT);
    await server.up();
    await drained(history);
    expect(sink.status()).toMatchObject({ state: 'connected', code: null });
    expect(history.outbox.counts('influx')).toMatchObject({ accepted: 160, rejected: 0, dropped: 0 });
    expect(reports).toEqual(['influx_unreachable', 'influx_unreachable']);
    expectMinutes(await server.read('tonhour'), 1, 80);
  });

  test('a connection that goes dead is given up, and the write sent again is the same points', async () => {
    const { server, proxy, make } = await rigOf(start);
    const history = open();
    commit(history, 1, 3);
    const sink = make(history, { limits: { influx_answer_ms_max: 1000 } });
    await drained(history);
    proxy.freeze();
    commit(history, 4, 6);
    sink.wake();
    await drained(history);
    expect(sink.status().counters['failed']).toBeGreaterThanOrEqual(1);
    expectMinutes(await server.read('tonhour'), 1, 6);
  });

  test('minutes that are delivered twice are there once', async () => {
    const { server, make } = await rigOf(start);
    for (let time = 1; time <= 2; time++) {
      const history = open();
      commit(history, 1, 10);
      const sink = make(history);
      await drained(history);
      await sink.stop();
    }
    expectMinutes(await server.read('tonhour'), 1, 10);
  });
});

describe('influxdb 1.6', () => {
  test('a wrong password is named and keeps everything; the right one delivers it', async () => {
    const { server, make } = await rigOf(startInflux);
    const history = open();
    commit(history, 1, 2);
    if (server.write.api !== 'v1') throw new Error('writes of v1');
    const wrong = make(history, { write: { ...server.write, login: { username: 'agent', password: 'wrong horse' } } });
    await vi.waitUntil(() => wrong.status().code === 'influx_not_authorised', WAIT);
    expect(JSON.stringify(wrong.status())).not.toContain('wrong horse');
    await wrong.stop();
    expect(history.outbox.counts('influx')).toMatchObject({ waiting: 4, rejected: 0 });
    make(history);
    await drained(history);
    expectMinutes(await server.read('tonhour'), 1, 2);
  });

  test('a database that is not there keeps everything, and the store says so in its own words', async () => {
    const { server, make } = await rigOf(startInflux);
    const history = open();
    commit(history, 1, 2);
    if (server.write.api !== 'v1') throw new Error('writes of v1');
    const sink = make(history, { write: { ...server.write, database: 'nowhere' } });
    await vi.waitUntil(() => sink.status().code === 'influx_refused', WAIT);
    expect(sink.status().reason).toContain('database not found');
    expect(history.outbox.counts('influx')).toMatchObject({ waiting: 4, rejected: 0 });
  });

  test('a series of another type is refused in part: given up and counted, the rest of the minute is stored', async () => {
    const { server, make } = await rigOf(startInflux);
    if (server.write.api !== 'v1' || server.write.login === null) throw new Error('writes of v1, with a login');
    const { username, password } = server.write.login;
    const answer = await fetch(`${server.url}/write?db=plant&precision=ms`, {
      method: 'POST',
      headers: { authorization: `Basic ${Buffer.from(`${username}:${password}`).toString('base64')}` },
      // The same shard as the minutes: types are held by the shard.
      body: `tonhour_point,site=other value="text" ${START + 60_000}`,
    });
    expect(answer.status).toBe(204);
    const history = open();
    commit(history, 1, 2);
    const reports: string[] = [];
    make(history, { report: ({ message }) => reports.push(message) });
    await drained(history);
    expect(history.outbox.counts('influx')).toMatchObject({ rejected: 4 });
    expect(reports[0]).toContain('field type conflict');
    const powers = (await server.read('tonhour')).filter(({ series }) => series.startsWith('tonhour_value'));
    expect(powers.map(({ value }) => value)).toEqual([1.25, 1.25, 2.25, 2.25]);
    const gaps = (await server.read('tonhour_gap')).filter(({ series }) => series.startsWith('tonhour_gap_count'));
    expect(gaps.reduce((sum, { value }) => sum + value, 0)).toBe(4);
  });
});
