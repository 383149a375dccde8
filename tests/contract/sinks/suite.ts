/**
 * What an MQTT sink owes, against any real broker: every committed number arrives, in order, over restarts and dead
 * connections of the broker, and everybody can see whether the agent is there. A second broker gets all tests for free.
 */
import { expect, onTestFinished, test, vi } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import type { History } from '../../../agent/history/history.ts';
import { MqttSink } from '../../../agent/sinks/mqtt.ts';
import type { MqttOptions } from '../../../agent/sinks/mqtt-options.ts';
import { startProxy, type TcpProxy } from '../../fault/tcp-proxy.ts';
import { minute, open } from '../../unit/history/helpers.ts';

export interface Seen {
  readonly topic: string;
  readonly payload: string;
  readonly retained: boolean;
}

/**
 * A broker under test that wants user `agent` with password `right`, and a subscriber of `tonhour/#` that is
 * independent of the sink.
 */
export interface BrokerUnderTest {
  readonly port: number;
  readonly seen: readonly Seen[];
  /** Ends the broker and starts it anew on the same port; resolves when the subscriber is back. */
  restart(gate: TcpProxy): Promise<void>;
  /** What a client that subscribes only now is given as retained on a topic. */
  retained(topic: string): Promise<string | null>;
  stop(): Promise<void>;
}

const STATUS = 'tonhour/kestrel-quay/status';
const WAIT = { timeout: 30_000, interval: 20 };

interface Rig {
  readonly broker: BrokerUnderTest;
  readonly proxy: TcpProxy;
  readonly history: History;
  readonly sink: (options?: Partial<MqttOptions>) => MqttSink;
  readonly commit: (from: number, to: number, sink?: MqttSink) => void;
  readonly numbers: () => number[];
}

async function rigOf(start: () => Promise<BrokerUnderTest>): Promise<Rig> {
  const broker = await start();
  const proxy = await startProxy(broker.port);
  const history = open();
  onTestFinished(async () => {
    await proxy.stop();
    await broker.stop();
  });
  return {
    broker,
    proxy,
    history,
    sink: (options = {}) => {
      const sink = new MqttSink({
        outbox: history.outbox,
        url: `mqtt://127.0.0.1:${proxy.port}`,
        username: 'agent',
        password: 'right',
        clientId: 'tonhour-kestrel-quay',
        statusAddress: STATUS,
        version: '0',
        limits: { backoff_ms_min: 20, backoff_ms_max: 100 },
        ...options,
      });
      must(sink.init());
      onTestFinished(() => sink.stop());
      return sink;
    },
    commit: (from, to, sink) => {
      for (let sequence = from; sequence <= to; sequence++) must(history.commitMinute(minute(sequence)));
      sink?.wake();
    },
    numbers: () =>
      broker.seen.filter(({ topic }) => topic.endsWith('/metrics')).map(({ payload }) => JSON.parse(payload).sequence),
  };
}

/** Numbers at their first arrival: what a store keyed by (chiller, sequence) keeps. */
function firsts(numbers: readonly number[]): number[] {
  return [...new Set(numbers)];
}

function count(from: number, to: number): number[] {
  return Array.from({ length: to - from + 1 }, (_, index) => from + index);
}

export function describeSink(start: () => Promise<BrokerUnderTest>): void {
  test('forty numbers in a row arrive in order while the broker restarts once in their midst', async () => {
    const { broker, proxy, history, sink: make, commit, numbers } = await rigOf(start);
    const sink = make();
    sink.start();
    commit(1, 15, sink);
    await vi.waitUntil(() => numbers().includes(15), WAIT);
    const restarted = broker.restart(proxy);
    commit(16, 30, sink); // computed while the broker is away
    await restarted;
    commit(31, 40, sink);
    await vi.waitUntil(() => history.outbox.counts('mqtt').waiting === 0 && numbers().includes(40), WAIT);
    expect(firsts(numbers())).toEqual(count(1, 40));
    expect(sink.status().counters).toMatchObject({ waiting: 0, dropped: 0, rejected: 0 });
    expect(sink.status().counters['connections']).toBeGreaterThanOrEqual(2);
  });

  test('a broker that is not there at the start gets everything when it appears', async () => {
    const { proxy, sink: make, commit, numbers } = await rigOf(start);
    proxy.refuse();
    const sink = make();
    sink.start();
    commit(1, 5, sink);
    await vi.waitUntil(() => proxy.accepted() >= 3, WAIT);
    expect(sink.status()).toMatchObject({ state: 'lost', code: 'mqtt_unreachable' });
    expect(sink.status().reason).toContain(`127.0.0.1:${proxy.port}`);
    expect(sink.status().counters['waiting']).toBe(5);
    proxy.pass();
    await vi.waitUntil(() => numbers().includes(5), WAIT);
    expect(firsts(numbers())).toEqual(count(1, 5));
    await vi.waitUntil(() => sink.status().reason === null, WAIT);
    expect(sink.status()).toMatchObject({ state: 'connected', code: null });
  });

  test('a wrong password is named, keeps everything, and the right one delivers it', async () => {
    const { sink: make, commit, numbers } = await rigOf(start);
    const reports: string[] = [];
    const wrong = make({ password: 'wrong', report: ({ code }) => reports.push(code) });
    wrong.start();
    commit(1, 3, wrong);
    await vi.waitUntil(() => wrong.status().code === 'mqtt_not_authorised', WAIT);
    expect(wrong.status().state).toBe('lost');
    expect(reports).toEqual(['mqtt_not_authorised']);
    expect(JSON.stringify(wrong.status())).not.toContain('wrong');
    await wrong.stop();
    expect(numbers()).toEqual([]);
    const right = make();
    right.start();
    await vi.waitUntil(() => numbers().includes(3), WAIT);
    expect(firsts(numbers())).toEqual(count(1, 3));
  });

  test('a half-open connection is found out, and the late will of the old one does not stand against the new', async () => {
    const { broker, proxy, sink: make, commit, numbers } = await rigOf(start);
    const sink = make({ limits: { backoff_ms_min: 20, backoff_ms_max: 100, mqtt_acknowledge_ms_max: 400 } });
    sink.start();
    commit(1, 3, sink);
    await vi.waitUntil(() => numbers().includes(3), WAIT);
    proxy.freeze();
    commit(4, 6, sink);
    await vi.waitUntil(() => numbers().includes(6), WAIT);
    expect(firsts(numbers())).toEqual(count(1, 6));
    expect(sink.status().counters['lost']).toBe(1);
    await vi.waitUntil(() => statuses(broker).includes('offline'), WAIT);
    await vi.waitUntil(async () => JSON.parse((await broker.retained(STATUS)) ?? '{}').status === 'online', WAIT);
  });

  test('the retained status says online, offline by the will after a cut, and offline with a reason after a stop', async () => {
    const { broker, proxy, sink: make } = await rigOf(start);
    const description = { address: 'tonhour/kestrel-quay/CH-1/describe', payload: '{"refrigerant":"R134a"}' };
    const sink = make({ announcements: () => [description] });
    sink.start();
    await vi.waitUntil(async () => (await broker.retained(description.address)) === description.payload, WAIT);
    expect(JSON.parse((await broker.retained(STATUS)) ?? '{}')).toMatchObject({ status: 'online' });
    proxy.refuse();
    await vi.waitUntil(() => statuses(broker).at(-1) === 'offline', WAIT);
    expect(JSON.parse((await broker.retained(STATUS)) ?? '{}')).toMatchObject({ reason: 'connection lost' });
    proxy.pass();
    await vi.waitUntil(() => statuses(broker).at(-1) === 'online', WAIT);
    await sink.stop();
    expect(JSON.parse((await broker.retained(STATUS)) ?? '{}')).toMatchObject({ status: 'offline', reason: 'stopped' });
    expect(sink.status().state).toBe('stopped');
    await sink.stop();
  });

  test('a backlog of a thousand minutes of two chillers drains in order per chiller', async () => {
    const { broker, history, sink: make } = await rigOf(start);
    for (let sequence = 1; sequence <= 500; sequence++)
      for (const chiller of ['CH-1', 'CH-2']) must(history.commitMinute(minute(sequence, { chiller })));
    const sink = make();
    sink.start();
    await vi.waitUntil(() => history.outbox.counts('mqtt').waiting === 0, WAIT);
    for (const chiller of ['CH-1', 'CH-2']) {
      const topic = `tonhour/kestrel-quay/${chiller}/metrics`;
      const of = () => broker.seen.filter((seen) => seen.topic === topic);
      await vi.waitUntil(() => of().length >= 500, WAIT);
      expect(of().map(({ payload }) => JSON.parse(payload).sequence)).toEqual(count(1, 500));
    }
  });
}

function statuses(broker: BrokerUnderTest): string[] {
  return broker.seen.filter(({ topic }) => topic === STATUS).map(({ payload }) => JSON.parse(payload).status);
}
