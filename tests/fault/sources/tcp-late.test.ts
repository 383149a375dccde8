/**
 * Peers that are late, frozen, gone or replay the past: what was due to an earlier question never answers a later one.
 */
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { settled } from '../../unit/sources/fake-time.ts';
import { FaultRig, failed, right } from './bench-line.ts';
import { honest, silence } from './lying-server.ts';

const rig = new FaultRig();

describe('a peer that is late', () => {
  test('a late reply on the old connection answers nothing on the new one', async () => {
    rig.server.behaviour = silence;
    const outcome = await rig.bench.readInVain({ register: 100 });
    expect(failed(outcome)).toMatchObject({ code: 'controller_silent', reason: 'no reply within 1000 ms' });
    rig.bench.waitOut(outcome);
    rig.server.behaviour = (asked, socket) => {
      // the first request of the new connection: the old one is answered first, and the old reply is sent here as well
      const late = honest(rig.server.asked[0]!);
      rig.server.connections[0]!.write(late);
      if (asked.index === 1) socket.write(late);
      socket.write(honest(asked));
    };
    const second = await rig.bench.read({ register: 200 });
    expect(failed(second).code).toBe('controller_malformed');
    rig.bench.time.advance(60_000);
    expect(right(await rig.bench.read({ register: 300 }), { register: 300 })).toBe(true);
  });

  test('frozen for 300 requests, then everything is answered at once', async () => {
    rig.server.behaviour = silence;
    for (let i = 0; i < 300; i += 1) {
      rig.bench.waitOut(await rig.bench.readInVain({ register: i % 3 }));
    }
    let thawed = false;
    rig.server.behaviour = (asked, socket) => {
      if (!thawed)
        for (const old of rig.server.asked.slice(0, 300)) rig.server.connections[old.connection]!.write(honest(old));
      thawed = true;
      socket.write(honest(asked));
    };
    for (let i = 0; i < 600; i += 1) {
      const register = i % 5;
      expect(right(await rig.bench.read({ register }), { register })).toBe(true);
    }
  });

  test('a cable pulled for 300 polls on one connection and put back: nothing old is taken for new', async () => {
    // the network keeps what was sent and delivers it all to whichever connection is open
    const kept: Buffer[] = [];
    rig.server.behaviour = (asked) => {
      kept.push(honest(asked));
    };
    for (let i = 0; i < 300; i += 1) rig.bench.waitOut(await rig.bench.readInVain({ register: i % 3 }));
    let replies = 0;
    let wrong = 0;
    rig.server.behaviour = (asked, socket) => {
      const old = kept.shift();
      if (old !== undefined && asked.index % 2 === 0) socket.write(old);
      else socket.write(honest(asked));
    };
    for (let i = 0; i < 600; i += 1) {
      const outcome = await rig.bench.read({ register: i % 3 });
      if (outcome.kind === 'reply') replies += 1;
      if (outcome.kind === 'reply' && !right(outcome, { register: i % 3 })) wrong += 1;
      rig.bench.waitOut(outcome);
    }
    expect(wrong).toBe(0);
    expect(replies).toBeGreaterThan(200);
  });

  test('half open: the far end is gone without a word; noticed at the first deadline', async () => {
    expect(right(await rig.bench.read())).toBe(true);
    rig.server.connections[0]!.pause();
    const read = rig.bench.read();
    await settled();
    rig.bench.time.advance(1000);
    const outcome = failed(await read);
    expect(outcome.reason).toBe('no reply within 1000 ms');
    await rig.recovers(outcome);
  });

  test('a slow drip of single bytes within the deadline is a reply', async () => {
    rig.server.behaviour = async (asked, socket) => {
      for (const byte of honest(asked)) {
        socket.write(Buffer.from([byte]));
        await settled();
        rig.bench.time.advance(50);
      }
    };
    for (let register = 0; register < 10; register += 1) {
      expect(right(await rig.bench.read({ register }), { register })).toBe(true);
    }
    expect(rig.server.connections.length).toBe(1);
  });

  test('a drip slower than the deadline is none: the deadline is for the whole reply', async () => {
    rig.server.behaviour = async (asked, socket) => {
      for (const byte of honest(asked).subarray(0, 12)) {
        socket.write(Buffer.from([byte]));
        await settled();
      }
      rig.bench.time.advance(1000);
      await settled();
      socket.write(honest(asked).subarray(12));
    };
    const outcome = failed(await rig.bench.read());
    expect(outcome.reason).toBe('reply incomplete: 12 bytes within 1000 ms');
    await settled();
    await rig.recovers(outcome);
  });
});

describe('a gateway that replays', () => {
  test('replies of earlier connections, in order, instead of the due ones: none is taken', async () => {
    const earlier: Buffer[] = [];
    let replay = false;
    rig.server.behaviour = (asked, socket) => {
      const reply = honest(asked);
      if (!replay) earlier.push(reply);
      socket.write(replay ? earlier[asked.index % earlier.length]! : reply);
    };
    for (let i = 0; i < 600; i += 1)
      expect(right(await rig.bench.read({ register: i % 4 }), { register: i % 4 })).toBe(true);
    rig.server.connections[0]!.destroy();
    await settled();
    replay = true;
    let taken = 0;
    for (let i = 0; i < 600; i += 1) {
      const outcome = await rig.bench.read({ register: i % 4 });
      if (outcome.kind !== 'failed') taken += 1;
      rig.bench.waitOut(outcome);
    }
    expect(taken).toBe(0);
    replay = false;
    rig.bench.time.advance(LIMITS.backoff_ms_max);
    expect(right(await rig.bench.read({ register: 9 }), { register: 9 })).toBe(true);
  });

  test('transaction ids are random, 16 bits wide, and not used again soon', async () => {
    for (let i = 0; i < 2000; i += 1) await rig.bench.read();
    const ids = rig.server.asked.map(({ id }) => id);
    expect(new Set(ids).size).toBe(2000);
    expect(ids.filter((id) => id > 255).length).toBeGreaterThan(1900);
    const steps = new Set(ids.slice(1).map((id, i) => (id - ids[i]! + 65_536) % 65_536));
    expect(steps.size).toBeGreaterThan(1900);
  });
});
