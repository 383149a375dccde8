/** One source's trouble never touches another's: neither when starting nor when stopping. */
import { beforeEach, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import type { SampleSink, Source, SourceStatus } from '../../../agent/points/types.ts';
import { SourceSupervisor } from '../../../agent/sources/supervisor.ts';
import { FakeTime, seeded } from './fake-time.ts';

let time: FakeTime;
let logged: string[];

beforeEach(() => {
  time = new FakeTime();
  logged = [];
});

class Scripted implements Source {
  starts = 0;
  stops = 0;
  running = false;
  onStart: () => Promise<void> = async () => {};
  onStop: () => Promise<void> = async () => {};

  async start(_: SampleSink): Promise<void> {
    this.starts += 1;
    await this.onStart();
    this.running = true;
  }
  async stop(): Promise<void> {
    this.stops += 1;
    await this.onStop();
    this.running = false;
  }
  status(): SourceStatus {
    return { state: this.running ? 'connected' : 'stopped', since: 0, reason: null, counters: { starts: this.starts } };
  }
}

function supervise(...sources: Source[]): SourceSupervisor {
  const log = {
    info: () => {},
    warn: (fields: Readonly<Record<string, unknown>>, message: string) =>
      void logged.push(`${fields['chiller']} ${message}`),
  };
  const sink = { record: () => {} };
  const charges = sources.map((source, i) => ({ chiller: `CH-${i + 1}`, source, sink }));
  return new SourceSupervisor({ sources: charges, clock: time, timers: time, random: seeded(2), log });
}

test('a source that cannot be started is tried again with a growing pause while the other runs', async () => {
  const [bad, good] = [new Scripted(), new Scripted()];
  bad.onStart = () => Promise.reject(new Error('address already in use'));
  const supervisor = supervise(bad, good);
  supervisor.start();
  await time.pass(600_000);
  expect(good).toMatchObject({ starts: 1, running: true });
  expect(bad.starts).toBeGreaterThan(10);
  expect(bad.starts).toBeLessThan(40);
  expect(supervisor.status()).toMatchObject({
    'CH-1': { state: 'lost', reason: 'address already in use', since: Date.UTC(2026, 0, 1) },
    'CH-2': { state: 'connected' },
  });
  expect(logged).toEqual(['CH-1 source cannot be started']);
  bad.onStart = async () => {};
  await time.pass(LIMITS.backoff_ms_max);
  expect(supervisor.status()).toMatchObject({ 'CH-1': { state: 'connected', reason: null } });
  await supervisor.stop();
});

test('a source that hangs in stop is given up after the bound; the others have stopped; a throw is no more than a line', async () => {
  const [hangs, throws, good] = [new Scripted(), new Scripted(), new Scripted()];
  hangs.onStop = () => new Promise(() => {});
  throws.onStop = () => Promise.reject(new Error('broken'));
  const supervisor = supervise(hangs, throws, good);
  supervisor.start();
  await time.pass(0);
  let done = false;
  const stopped = supervisor.stop().then(() => {
    done = true;
  });
  await time.pass(1000 * LIMITS.stop_s_max - 1);
  expect(good.running).toBe(false);
  expect(done).toBe(false);
  await time.pass(1);
  await stopped;
  expect(logged.sort()).toEqual(['CH-1 source did not stop in time', 'CH-2 source did not stop cleanly']);
  expect(time.waiting).toBe(0);
});

test('stopped while a source still starts: it does not run on', async () => {
  const slow = new Scripted();
  let finish = (): void => {};
  slow.onStart = () =>
    new Promise((resolve) => {
      finish = resolve;
    });
  const supervisor = supervise(slow);
  supervisor.start();
  const stopped = supervisor.stop();
  await time.pass(0);
  finish();
  await stopped;
  expect(slow.running).toBe(false);
});

test('stopped while a source waits for its next try: it is not tried again', async () => {
  const bad = new Scripted();
  bad.onStart = () => Promise.reject(new Error('no'));
  const supervisor = supervise(bad);
  supervisor.start();
  await time.pass(0);
  await supervisor.stop();
  await time.pass(600_000);
  expect([bad.starts, time.waiting]).toEqual([1, 0]);
});

test('stopped while a source still starts, and the start fails then: it is not tried again', async () => {
  const bad = new Scripted();
  let fail = (): void => {};
  bad.onStart = () =>
    new Promise((_, reject) => {
      fail = () => reject(new Error('no'));
    });
  const supervisor = supervise(bad);
  supervisor.start();
  const stopped = supervisor.stop();
  await time.pass(0);
  fail();
  await stopped;
  await time.pass(600_000);
  expect([bad.starts, time.waiting]).toEqual([1, 0]);
});
