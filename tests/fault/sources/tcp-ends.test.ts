/** The end of a connection, from either side: everything settles, nothing is left open, and it comes back by itself. */
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { settled, until } from '../../unit/sources/fake-time.ts';
import { descriptors, FaultRig, failed, right } from './bench-line.ts';
import { answer, LyingServer, silence } from './lying-server.ts';

const rig = new FaultRig();

describe('the end of a connection', () => {
  test('refused, then served: back within one back-off', async () => {
    const { port } = rig.server;
    await rig.server.close();
    const outcome = failed(await rig.bench.read());
    expect(outcome).toMatchObject({ code: 'controller_unreachable', reason: 'connection refused', attempted: true });
    rig.server = await LyingServer.listen(port);
    await rig.recovers(outcome);
  });

  test('reset while a reply is due', async () => {
    rig.server.behaviour = (_, socket) => void socket.resetAndDestroy();
    const outcome = failed(await rig.bench.read());
    expect(outcome).toMatchObject({ code: 'controller_silent', reason: 'connection reset by the far end' });
    await rig.recovers(outcome);
  });

  test('closed by the far end while a reply is due', async () => {
    rig.server.behaviour = (_, socket) => void socket.end();
    const outcome = failed(await rig.bench.read());
    expect(outcome).toMatchObject({ code: 'controller_silent', reason: 'connection closed by the far end' });
    await rig.recovers(outcome);
  });

  test.each(['end', 'resetAndDestroy'] as const)(
    'closed while idle (%s): the next read opens anew and loses nothing',
    async (how) => {
      for (let i = 0; i < 10; i += 1) {
        expect(right(await rig.bench.read({ register: i }), { register: i })).toBe(true);
        const now = rig.bench.line.counters().connections;
        expect(now).toBe(i + 1);
        rig.server.connections.at(-1)![how]();
        await until(() => rig.server.connections.at(-1)!.destroyed);
        await settled();
      }
    },
  );

  test('accepted and closed at once, over and over: the pause grows and is spread', async () => {
    rig.server.onConnection = (socket) => socket.end();
    const pauses: number[] = [];
    for (let i = 0; i < 12; i += 1) {
      const outcome = failed(await rig.bench.read());
      pauses.push(outcome.retryAt - rig.bench.time.monotonic());
      rig.bench.waitOut(outcome);
    }
    expect(Math.min(...pauses)).toBeGreaterThanOrEqual(LIMITS.backoff_ms_min);
    expect(Math.max(...pauses)).toBeLessThanOrEqual(LIMITS.backoff_ms_max);
    expect(pauses.at(-1)!).toBeGreaterThanOrEqual(LIMITS.backoff_ms_max / 2);
    expect(new Set(pauses).size).toBe(12);
    rig.server.onConnection = () => {};
    expect(right(await rig.bench.read())).toBe(true);
  });
});

describe('giving up', () => {
  const states: [string, () => Promise<unknown>][] = [
    ['never used', () => Promise.resolve()],
    ['in use', () => rig.bench.read()],
    [
      'after a refusal',
      async () => {
        await rig.server.close();
        const outcome = await rig.bench.read();
        rig.server = await LyingServer.listen();
        return outcome;
      },
    ],
    [
      'after a reset',
      () => {
        rig.server.behaviour = (_, socket) => void socket.resetAndDestroy();
        return rig.bench.read();
      },
    ],
    [
      'after the far end closed',
      async () => {
        await rig.bench.read();
        rig.server.connections[0]!.end();
        await settled();
      },
    ],
  ];
  test.each(states)('%s: settles, twice as well', async (_, bring) => {
    await bring();
    await rig.bench.line.release(rig.bench.owner);
    await rig.bench.line.release(rig.bench.owner);
    await until(() => rig.server.open === 0);
  });

  test('with a reply due and others waiting: all of them settle', async () => {
    rig.server.behaviour = silence;
    const reads = [rig.bench.read(), rig.bench.read(), rig.bench.read()];
    await until(() => rig.server.requests === 1);
    await rig.bench.line.release(rig.bench.owner);
    expect(await Promise.all(reads)).toEqual([{ kind: 'stopped' }, { kind: 'stopped' }, { kind: 'stopped' }]);
    await until(() => rig.server.open === 0);
    expect(rig.server.requests).toBe(1);
  });

  test('one of two owners: the other loses no read', async () => {
    const other = {};
    rig.bench.line.attach(other);
    rig.server.behaviour = silence;
    const mine = rig.bench.read();
    const theirs = rig.bench.read({ owner: other, register: 8 });
    await until(() => rig.server.requests === 1);
    rig.server.behaviour = answer;
    await rig.bench.line.release(rig.bench.owner);
    expect(await mine).toEqual({ kind: 'stopped' });
    expect(right(await theirs, { register: 8 })).toBe(true);
    await rig.bench.line.release(other);
  });

  test('a frozen peer, 200 times over: no descriptor and no timer is left', async () => {
    rig.server.behaviour = silence;
    rig.server.onConnection = (socket) => socket.pause();
    const before = descriptors();
    for (let i = 0; i < 200; i += 1) {
      const read = rig.bench.read();
      await until(() => rig.server.connections.length === i + 1);
      await settled();
      rig.bench.time.advance(1000);
      rig.bench.waitOut(await read);
      rig.server.connections[i]!.destroy();
    }
    await rig.bench.line.release(rig.bench.owner);
    await until(() => descriptors() <= before);
    expect(rig.bench.time.waiting).toBe(0);
  });

  test('2,000 reconnections: descriptors stay flat', async () => {
    await rig.bench.read();
    const before = descriptors();
    let most = 0;
    for (let i = 0; i < 2000; i += 1) {
      rig.server.behaviour = i % 2 === 0 ? (_, socket) => void socket.end() : answer;
      const outcome = await rig.bench.read({ register: i });
      if (i % 2 === 0) rig.bench.waitOut(outcome);
      else expect(right(outcome, { register: i })).toBe(true);
      most = Math.max(most, descriptors());
    }
    expect(most - before).toBeLessThanOrEqual(6);
    expect(rig.bench.line.counters().connections).toBe(1001);
  });
});
