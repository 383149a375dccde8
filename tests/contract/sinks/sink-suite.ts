/**
 * What every sink owes, whatever is at its far end: nothing is lost while the far end is away, wrong or dead, people
 * are told in words, secrets are not, and the end is bounded. A further sink gets all of it for a rig of its own.
 */
import { expect, onTestFinished, test, vi } from 'vitest';
import type { ErrorCode } from '../../../agent/base/errors.ts';
import { must } from '../../../agent/base/result.ts';
import type { History } from '../../../agent/history/history.ts';
import type { Sink } from '../../../agent/sinks/types.ts';
import { startProxy, type TcpProxy } from '../../fault/tcp-proxy.ts';
import { open } from '../../unit/history/helpers.ts';

/** A far end under test that wants the password `right`. */
export interface FarEnd {
  readonly port: number;
  /** Numbers of the minutes that arrived, in order, repeats included. */
  arrived(): readonly number[];
  stop(): Promise<void>;
}

export interface Made {
  readonly port: number;
  readonly history: History;
  readonly password: string;
  /** Longest silence of the far end that the sink bears, ms. */
  readonly patience_ms: number;
  readonly report: (code: ErrorCode) => void;
}

export interface SinkUnderTest {
  readonly name: string;
  start(): Promise<FarEnd>;
  make(options: Made): Sink;
  /** Commits the minute of a number with one message for the sink. */
  commit(history: History, sequence: number): void;
  readonly codes: { readonly unreachable: ErrorCode; readonly login: ErrorCode };
}

const WAIT = { timeout: 60_000, interval: 20 };

interface Rig {
  readonly end: FarEnd;
  readonly proxy: TcpProxy;
  readonly history: History;
  readonly reports: ErrorCode[];
  readonly sink: (given?: Partial<Made>) => Sink;
  readonly commit: (from: number, to: number, sink: Sink) => void;
}

async function rigOf(tested: SinkUnderTest): Promise<Rig> {
  const end = await tested.start();
  const proxy = await startProxy(end.port);
  const history = open();
  const reports: ErrorCode[] = [];
  onTestFinished(async () => {
    await proxy.stop();
    await end.stop();
  });
  return {
    end,
    proxy,
    history,
    reports,
    sink: (given = {}) => {
      const report = (code: ErrorCode) => reports.push(code);
      const sink = tested.make({ port: proxy.port, history, password: 'right', patience_ms: 20_000, report, ...given });
      must(sink.init());
      onTestFinished(() => sink.stop());
      return sink;
    },
    commit: (from, to, sink) => {
      for (let sequence = from; sequence <= to; sequence++) tested.commit(history, sequence);
      sink.wake();
    },
  };
}

function numbers(from: number, to: number): number[] {
  return Array.from({ length: to - from + 1 }, (_, index) => from + index);
}

export function describeEverySink(tested: SinkUnderTest): void {
  const all = (end: FarEnd): number[] => [...new Set(end.arrived())];

  test(`${tested.name}: what waits before the start and what comes later arrives, once, in order`, async () => {
    const { end, history, sink: make, commit } = await rigOf(tested);
    tested.commit(history, 1);
    const sink = make();
    sink.start();
    await vi.waitUntil(() => end.arrived().includes(1), WAIT);
    for (const sequence of [2, 3, 4]) {
      commit(sequence, sequence, sink);
      await vi.waitUntil(() => end.arrived().includes(sequence), WAIT);
    }
    expect(end.arrived()).toEqual([1, 2, 3, 4]);
    await vi.waitUntil(() => sink.status().counters['waiting'] === 0, WAIT);
    expect(sink.status()).toMatchObject({ state: 'connected', reason: null, code: null });
    expect(sink.status().counters).toMatchObject({ accepted: 4, rejected: 0, dropped: 0 });
  });

  test(`${tested.name}: a far end that is not there is named, keeps everything, and gets it when it appears`, async () => {
    const { end, proxy, reports, sink: make, commit } = await rigOf(tested);
    proxy.refuse();
    const sink = make();
    sink.start();
    commit(1, 4, sink);
    await vi.waitUntil(() => proxy.accepted() >= 3 && sink.status().code !== null, WAIT);
    expect(sink.status()).toMatchObject({ state: 'lost', code: tested.codes.unreachable });
    expect(sink.status().reason).toContain(`127.0.0.1:${proxy.port}`);
    expect(sink.status().counters['waiting']).toBe(4);
    expect(reports).toContain(tested.codes.unreachable);
    proxy.pass();
    await vi.waitUntil(() => sink.status().counters['waiting'] === 0, WAIT);
    expect(all(end)).toEqual(numbers(1, 4));
    expect(sink.status()).toMatchObject({ state: 'connected', code: null });
  });

  test(`${tested.name}: a wrong password is named and not shown, keeps everything, and the right one delivers it`, async () => {
    const { end, reports, sink: make, commit } = await rigOf(tested);
    const wrong = make({ password: 'hunter2' });
    wrong.start();
    commit(1, 3, wrong);
    await vi.waitUntil(() => wrong.status().code === tested.codes.login, WAIT);
    expect(reports).toContain(tested.codes.login);
    expect(JSON.stringify([wrong.status(), reports])).not.toContain('hunter2');
    await wrong.stop();
    expect(end.arrived()).toEqual([]);
    const right = make();
    right.start();
    await vi.waitUntil(() => right.status().counters['waiting'] === 0, WAIT);
    expect(all(end)).toEqual(numbers(1, 3));
  });

  test(`${tested.name}: a connection that went dead without an end is found out, and nothing is missing`, async () => {
    const { end, proxy, sink: make, commit } = await rigOf(tested);
    const sink = make({ patience_ms: 1000 });
    sink.start();
    commit(1, 2, sink);
    await vi.waitUntil(() => sink.status().counters['waiting'] === 0, WAIT);
    const before = proxy.accepted();
    commit(3, 5, sink);
    await vi.waitUntil(() => proxy.accepted() > before || proxy.open() > 0, WAIT);
    proxy.freeze();
    await vi.waitUntil(() => sink.status().counters['waiting'] === 0, WAIT);
    expect(all(end).sort((a, b) => a - b)).toEqual(numbers(1, 5));
  });

  test(`${tested.name}: stops twice, in bounded time, also while the far end says nothing`, async () => {
    const { proxy, sink: make, commit } = await rigOf(tested);
    const sink = make();
    sink.start();
    await vi.waitUntil(() => sink.status().state === 'connected', WAIT);
    const before = proxy.accepted();
    commit(1, 1, sink);
    await vi.waitUntil(() => proxy.accepted() > before || proxy.open() > 0, WAIT);
    proxy.freeze();
    await sink.stop();
    await sink.stop();
    expect(sink.status().state).toBe('stopped');
    const never = make();
    await never.stop();
    expect(never.status().state).toBe('stopped');
  });
}
