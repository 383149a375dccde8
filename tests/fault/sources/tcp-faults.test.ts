/**
 * What real networks, gateways and controllers do to a Modbus TCP client, each row against a server that lies in that way over a real socket. Always:
 * no wrong value, an outcome for every read, and a right value again after one back-off. Time is fake, so deadlines pass when a test says so.
 */
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import type { LineOutcome } from '../../../agent/sources/modbus/line.ts';
import { settled, until } from '../../unit/sources/fake-time.ts';
import { BenchLine, descriptors, right } from './bench-line.ts';
import { type Asked, answer, type Behaviour, exception, honest, LyingServer, silence } from './lying-server.ts';

let server: LyingServer;
let bench: BenchLine;

beforeEach(async () => {
  server = await LyingServer.listen();
  bench = new BenchLine(server);
});

afterEach(async () => {
  await bench.line.release(bench.owner);
  await server.close();
  expect(server.unexplained).toEqual([]);
  expect(bench.time.waiting).toBe(0);
});

function failed(outcome: LineOutcome): Extract<LineOutcome, { kind: 'failed' }> {
  if (outcome.kind !== 'failed') throw new Error(`expected a failure, found ${outcome.kind}`);
  return outcome;
}

/** After a failure: at most the first back-off to wait, then the server is honest and 20 reads of changing blocks are right. */
async function recovers(outcome: LineOutcome): Promise<void> {
  const { retryAt } = failed(outcome);
  const pause = retryAt - bench.time.monotonic();
  expect(pause).toBeGreaterThanOrEqual(LIMITS.backoff_ms_min);
  expect(pause).toBeLessThanOrEqual(2 * LIMITS.backoff_ms_min);
  const resting = failed(await bench.read());
  expect(resting).toMatchObject({ attempted: false, reason: failed(outcome).reason });
  server.behaviour = answer;
  bench.waitOut(outcome);
  for (let register = 0; register < 20; register += 1) {
    expect(right(await bench.read({ register }), { register })).toBe(true);
  }
}

describe('a reply that is not the reply to what was asked', () => {
  const changed = (change: (frame: Buffer, asked: Asked) => Buffer): Behaviour => {
    return (asked, socket) => {
      socket.write(change(honest(asked), asked));
    };
  };
  const set = (at: number, value: (frame: Buffer) => number): Behaviour =>
    changed((frame) => {
      frame[at] = value(frame) & 0xff;
      return frame;
    });
  const lies: [string, Behaviour, RegExp][] = [
    ['another transaction id', set(1, (frame) => frame[1]! + 1), /reply to transaction \d+ instead of \d+/],
    ['an id that differs in the high byte alone', set(0, (frame) => frame[0]! ^ 1), /reply to transaction/],
    ['another protocol id', set(3, () => 1), /protocol id 1 instead of 0/],
    ['a length one short', set(5, (frame) => frame[5]! - 1), /length 10 instead of 11/],
    ['a length one long', set(5, (frame) => frame[5]! + 1), /length 12 instead of 11/],
    ['a length of zero', set(5, () => 0), /length 0 instead of 11/],
    ['a length of 65 thousand', set(4, () => 0xff), /length 65291 instead of 11/],
    [
      "another unit's reply",
      changed((_, asked) => honest({ ...asked, unit: asked.unit + 1 })),
      /reply of unit 2 instead of 1/,
    ],
    ['another function', changed((_, asked) => honest({ ...asked, code: 4 })), /function 4 instead of 3/],
    ['a writing function', set(7, () => 16), /function 16 instead of 3/],
    ['a byte count one short', set(8, (frame) => frame[8]! - 1), /byte count 7 instead of 8/],
    ['a byte count of zero', set(8, () => 0), /byte count 0 instead of 8/],
    ['fewer registers than asked', changed((_, asked) => honest({ ...asked, count: 3 })), /length 9 instead of 11/],
    ['more registers than asked', changed((_, asked) => honest({ ...asked, count: 5 })), /length 13 instead of 11/],
    [
      'an exception with more behind it',
      changed((frame) => Buffer.from(frame.fill(0x83, 7, 8))),
      /an exception of length 11/,
    ],
    [
      'an exception of another function',
      changed((_, asked) => exception({ ...asked, code: 4 }, 2)),
      /function 132 instead of 3/,
    ],
    [
      'one byte too many',
      changed((frame) => Buffer.concat([frame, Buffer.from([0])])),
      /bytes beyond the end of the reply/,
    ],
    ['a line of text', changed(() => Buffer.from('HTTP/1.1 400 Bad Request\r\n\r\n')), /reply to transaction 18516/],
  ];
  test.each(lies)('%s', async (_, behaviour, reason) => {
    server.behaviour = behaviour;
    const outcome = failed(await bench.read());
    expect(outcome).toMatchObject({ code: 'controller_malformed', attempted: true });
    expect(outcome.reason).toMatch(reason);
    await recovers(outcome);
    expect(bench.line.counters().connections).toBe(2);
  });

  test('an extra byte that arrives behind a good reply costs the connection, not the value', async () => {
    server.behaviour = (asked, socket) => {
      socket.write(honest(asked), () => setImmediate(() => socket.write(Buffer.from([0x55]))));
    };
    let wrong = 0;
    for (let i = 0; i < 50; i += 1) {
      const outcome = await bench.read({ register: i });
      if (outcome.kind === 'reply' && !right(outcome, { register: i })) wrong += 1;
      bench.waitOut(outcome);
      await settled();
    }
    expect(wrong).toBe(0);
    expect(bench.line.counters().connections).toBeGreaterThan(10);
  });

  test('bytes that nobody asked for, while the line is idle, cost the connection', async () => {
    expect(right(await bench.read())).toBe(true);
    server.connections[0]!.write(honest({ ...server.asked[0]!, id: server.asked[0]!.id ^ 0x1234, register: 500 }));
    await until(() => server.connections[0]!.destroyed);
    expect(right(await bench.read({ register: 7 }), { register: 7 })).toBe(true);
    expect(server.connections.length).toBe(2);
  });

  test.each([1, 7, 8, 9, 16])('a reply cut off after %i bytes', async (length) => {
    server.behaviour = (asked, socket) => {
      socket.write(honest(asked).subarray(0, length));
    };
    const read = bench.read();
    await until(() => server.requests === 1);
    await settled();
    bench.time.advance(1000);
    const outcome = failed(await read);
    expect(outcome.reason).toBe(`reply incomplete: ${length} bytes within 1000 ms`);
    await recovers(outcome);
  });
});

describe('a peer that is late', () => {
  test('a late reply on the old connection answers nothing on the new one', async () => {
    server.behaviour = silence;
    const outcome = await bench.readInVain({ register: 100 });
    expect(failed(outcome)).toMatchObject({ code: 'controller_silent', reason: 'no reply within 1000 ms' });
    bench.waitOut(outcome);
    server.behaviour = (asked, socket) => {
      // the first request of the new connection: the old one is answered first, and the old reply is sent here as well
      const late = honest(server.asked[0]!);
      server.connections[0]!.write(late);
      if (asked.index === 1) socket.write(late);
      socket.write(honest(asked));
    };
    const second = await bench.read({ register: 200 });
    expect(failed(second).code).toBe('controller_malformed');
    bench.time.advance(60_000);
    expect(right(await bench.read({ register: 300 }), { register: 300 })).toBe(true);
  });

  test('frozen for 300 requests, then everything is answered at once', async () => {
    server.behaviour = silence;
    for (let i = 0; i < 300; i += 1) {
      bench.waitOut(await bench.readInVain({ register: i % 3 }));
    }
    let thawed = false;
    server.behaviour = (asked, socket) => {
      if (!thawed) for (const old of server.asked.slice(0, 300)) server.connections[old.connection]!.write(honest(old));
      thawed = true;
      socket.write(honest(asked));
    };
    for (let i = 0; i < 600; i += 1) {
      const register = i % 5;
      expect(right(await bench.read({ register }), { register })).toBe(true);
    }
  });

  test('a cable pulled for 300 polls on one connection and put back: nothing old is taken for new', async () => {
    // the network keeps what was sent and delivers it all to whichever connection is open
    const kept: Buffer[] = [];
    server.behaviour = (asked) => {
      kept.push(honest(asked));
    };
    for (let i = 0; i < 300; i += 1) bench.waitOut(await bench.readInVain({ register: i % 3 }));
    let replies = 0;
    let wrong = 0;
    server.behaviour = (asked, socket) => {
      const old = kept.shift();
      if (old !== undefined && asked.index % 2 === 0) socket.write(old);
      else socket.write(honest(asked));
    };
    for (let i = 0; i < 600; i += 1) {
      const outcome = await bench.read({ register: i % 3 });
      if (outcome.kind === 'reply') replies += 1;
      if (outcome.kind === 'reply' && !right(outcome, { register: i % 3 })) wrong += 1;
      bench.waitOut(outcome);
    }
    expect(wrong).toBe(0);
    expect(replies).toBeGreaterThan(200);
  });

  test('half open: the far end is gone without a word; noticed at the first deadline', async () => {
    expect(right(await bench.read())).toBe(true);
    server.connections[0]!.pause();
    const read = bench.read();
    await settled();
    bench.time.advance(1000);
    const outcome = failed(await read);
    expect(outcome.reason).toBe('no reply within 1000 ms');
    await recovers(outcome);
  });

  test('a slow drip of single bytes within the deadline is a reply', async () => {
    server.behaviour = async (asked, socket) => {
      for (const byte of honest(asked)) {
        socket.write(Buffer.from([byte]));
        await settled();
        bench.time.advance(50);
      }
    };
    for (let register = 0; register < 10; register += 1) {
      expect(right(await bench.read({ register }), { register })).toBe(true);
    }
    expect(server.connections.length).toBe(1);
  });

  test('a drip slower than the deadline is none: the deadline is for the whole reply', async () => {
    server.behaviour = async (asked, socket) => {
      for (const byte of honest(asked).subarray(0, 12)) {
        socket.write(Buffer.from([byte]));
        await settled();
      }
      bench.time.advance(1000);
      await settled();
      socket.write(honest(asked).subarray(12));
    };
    const outcome = failed(await bench.read());
    expect(outcome.reason).toBe('reply incomplete: 12 bytes within 1000 ms');
    await settled();
    await recovers(outcome);
  });
});

describe('a gateway that replays', () => {
  test('replies of earlier connections, in order, instead of the due ones: none is taken', async () => {
    const earlier: Buffer[] = [];
    let replay = false;
    server.behaviour = (asked, socket) => {
      const reply = honest(asked);
      if (!replay) earlier.push(reply);
      socket.write(replay ? earlier[asked.index % earlier.length]! : reply);
    };
    for (let i = 0; i < 600; i += 1)
      expect(right(await bench.read({ register: i % 4 }), { register: i % 4 })).toBe(true);
    server.connections[0]!.destroy();
    await settled();
    replay = true;
    let taken = 0;
    for (let i = 0; i < 600; i += 1) {
      const outcome = await bench.read({ register: i % 4 });
      if (outcome.kind !== 'failed') taken += 1;
      bench.waitOut(outcome);
    }
    expect(taken).toBe(0);
    replay = false;
    bench.time.advance(LIMITS.backoff_ms_max);
    expect(right(await bench.read({ register: 9 }), { register: 9 })).toBe(true);
  });

  test('transaction ids are random, 16 bits wide, and not used again soon', async () => {
    for (let i = 0; i < 2000; i += 1) await bench.read();
    const ids = server.asked.map(({ id }) => id);
    expect(new Set(ids).size).toBe(2000);
    expect(ids.filter((id) => id > 255).length).toBeGreaterThan(1900);
    const steps = new Set(ids.slice(1).map((id, i) => (id - ids[i]! + 65_536) % 65_536));
    expect(steps.size).toBeGreaterThan(1900);
  });
});

describe('a device that sends every reply twice', () => {
  test.each<[string, Behaviour]>([
    ['in one piece', (asked, socket) => void socket.write(Buffer.concat([honest(asked), honest(asked)]))],
    [
      'a little later',
      (asked, socket) => {
        socket.write(honest(asked));
        setImmediate(() => socket.write(honest(asked)));
      },
    ],
    [
      'the copy before the next reply, cut in the middle',
      (asked, socket, { asked: all }) => {
        const before = all[asked.index - 1];
        const copy = before === undefined ? Buffer.alloc(0) : honest(before);
        socket.write(copy.subarray(0, 5));
        setImmediate(() => socket.write(Buffer.concat([copy.subarray(5), honest(asked)])));
      },
    ],
  ])('%s: the values stand, the connection stays, the device is named', async (_, behaviour) => {
    server.behaviour = behaviour;
    for (let register = 0; register < 50; register += 1) {
      expect(right(await bench.read({ register }), { register })).toBe(true);
    }
    expect(server.connections.length).toBe(1);
    expect(bench.line.remark()).toBe('the device sends its replies more than once (copies dropped)');
    expect(bench.line.counters().duplicates).toBeGreaterThan(45);
    server.behaviour = answer;
    await bench.read({ register: 60 });
    await bench.read({ register: 61 });
    await bench.read({ register: 62 });
    expect(bench.line.remark()).toBeNull();
  });

  test('one repeated without end is not borne', async () => {
    expect(right(await bench.read())).toBe(true);
    for (let i = 0; i < 20; i += 1) server.connections[0]!.write(honest(server.asked[0]!));
    await until(() => server.connections[0]!.destroyed);
    expect(right(await bench.read({ register: 3 }), { register: 3 })).toBe(true);
  });
});

describe('exceptions', () => {
  test('every code is handed on and the connection stays', async () => {
    for (let code = 0; code <= 255; code += 1) {
      server.behaviour = (asked, socket) => void socket.write(exception(asked, code));
      expect(await bench.read()).toEqual({ kind: 'exception', code });
    }
    server.behaviour = answer;
    expect(right(await bench.read())).toBe(true);
    expect(server.connections.length).toBe(1);
  });
});

describe('many askers at once', () => {
  test('300 reads of five units at once: one in flight, each the value of its own unit and address', async () => {
    let inFlight = 0;
    let most = 0;
    server.behaviour = (asked, socket) => {
      inFlight += 1;
      most = Math.max(most, inFlight);
      setImmediate(() => {
        inFlight -= 1;
        socket.write(honest(asked));
      });
    };
    const wanted = Array.from({ length: 300 }, (_, i) => ({ unit: 1 + (i % 5), register: i, count: 1 + (i % 7) }));
    const outcomes = await Promise.all(wanted.map((want) => bench.read(want)));
    expect(outcomes.filter((outcome, i) => right(outcome, wanted[i])).length).toBe(300);
    expect(most).toBe(1);
    expect(server.connections.length).toBe(1);
  });

  test('a dead unit behind a gateway rests alone: the living one is read at every try', async () => {
    server.behaviour = (asked, socket, self) => (asked.unit === 2 ? undefined : answer(asked, socket, self));
    for (let i = 0; i < 20; i += 1) {
      const before = server.requests;
      const dead = bench.read({ unit: 2, register: i });
      await settled();
      if (server.requests > before) bench.time.advance(1000);
      expect((await dead).kind).toBe('failed');
      expect(right(await bench.read({ unit: 1, register: i }), { unit: 1, register: i })).toBe(true);
    }
    // the pause of the dead unit grew: fewer tries than turns
    expect(server.asked.filter(({ unit }) => unit === 2).length).toBeLessThan(20);
  });
});

describe('the end of a connection', () => {
  test('refused, then served: back within one back-off', async () => {
    const { port } = server;
    await server.close();
    const outcome = failed(await bench.read());
    expect(outcome).toMatchObject({ code: 'controller_unreachable', reason: 'connection refused', attempted: true });
    server = await LyingServer.listen(port);
    await recovers(outcome);
  });

  test('reset while a reply is due', async () => {
    server.behaviour = (_, socket) => void socket.resetAndDestroy();
    const outcome = failed(await bench.read());
    expect(outcome).toMatchObject({ code: 'controller_silent', reason: 'connection reset by the far end' });
    await recovers(outcome);
  });

  test('closed by the far end while a reply is due', async () => {
    server.behaviour = (_, socket) => void socket.end();
    const outcome = failed(await bench.read());
    expect(outcome).toMatchObject({ code: 'controller_silent', reason: 'connection closed by the far end' });
    await recovers(outcome);
  });

  test.each(['end', 'resetAndDestroy'] as const)(
    'closed while idle (%s): the next read opens anew and loses nothing',
    async (how) => {
      for (let i = 0; i < 10; i += 1) {
        expect(right(await bench.read({ register: i }), { register: i })).toBe(true);
        const now = bench.line.counters().connections;
        expect(now).toBe(i + 1);
        server.connections.at(-1)![how]();
        await until(() => server.connections.at(-1)!.destroyed);
        await settled();
      }
    },
  );

  test('accepted and closed at once, over and over: the pause grows and is spread', async () => {
    server.onConnection = (socket) => socket.end();
    const pauses: number[] = [];
    for (let i = 0; i < 12; i += 1) {
      const outcome = failed(await bench.read());
      pauses.push(outcome.retryAt - bench.time.monotonic());
      bench.waitOut(outcome);
    }
    expect(Math.min(...pauses)).toBeGreaterThanOrEqual(LIMITS.backoff_ms_min);
    expect(Math.max(...pauses)).toBeLessThanOrEqual(LIMITS.backoff_ms_max);
    expect(pauses.at(-1)!).toBeGreaterThanOrEqual(LIMITS.backoff_ms_max / 2);
    expect(new Set(pauses).size).toBe(12);
    server.onConnection = () => {};
    expect(right(await bench.read())).toBe(true);
  });
});

describe('giving up', () => {
  const states: [string, () => Promise<unknown>][] = [
    ['never used', () => Promise.resolve()],
    ['in use', () => bench.read()],
    [
      'after a refusal',
      async () => {
        await server.close();
        const outcome = await bench.read();
        server = await LyingServer.listen();
        return outcome;
      },
    ],
    [
      'after a reset',
      () => {
        server.behaviour = (_, socket) => void socket.resetAndDestroy();
        return bench.read();
      },
    ],
    [
      'after the far end closed',
      async () => {
        await bench.read();
        server.connections[0]!.end();
        await settled();
      },
    ],
  ];
  test.each(states)('%s: settles, twice as well', async (_, bring) => {
    await bring();
    await bench.line.release(bench.owner);
    await bench.line.release(bench.owner);
    await until(() => server.open === 0);
  });

  test('with a reply due and others waiting: all of them settle', async () => {
    server.behaviour = silence;
    const reads = [bench.read(), bench.read(), bench.read()];
    await until(() => server.requests === 1);
    await bench.line.release(bench.owner);
    expect(await Promise.all(reads)).toEqual([{ kind: 'stopped' }, { kind: 'stopped' }, { kind: 'stopped' }]);
    await until(() => server.open === 0);
    expect(server.requests).toBe(1);
  });

  test('one of two owners: the other loses no read', async () => {
    const other = {};
    bench.line.attach(other);
    server.behaviour = silence;
    const mine = bench.read();
    const theirs = bench.read({ owner: other, register: 8 });
    await until(() => server.requests === 1);
    server.behaviour = answer;
    await bench.line.release(bench.owner);
    expect(await mine).toEqual({ kind: 'stopped' });
    expect(right(await theirs, { register: 8 })).toBe(true);
    await bench.line.release(other);
  });

  test('a frozen peer, 200 times over: no descriptor and no timer is left', async () => {
    server.behaviour = silence;
    server.onConnection = (socket) => socket.pause();
    const before = descriptors();
    for (let i = 0; i < 200; i += 1) {
      const read = bench.read();
      await until(() => server.connections.length === i + 1);
      await settled();
      bench.time.advance(1000);
      bench.waitOut(await read);
      server.connections[i]!.destroy();
    }
    await bench.line.release(bench.owner);
    await until(() => descriptors() <= before);
    expect(bench.time.waiting).toBe(0);
  });

  test('2,000 reconnections: descriptors stay flat', async () => {
    await bench.read();
    const before = descriptors();
    let most = 0;
    for (let i = 0; i < 2000; i += 1) {
      server.behaviour = i % 2 === 0 ? (_, socket) => void socket.end() : answer;
      const outcome = await bench.read({ register: i });
      if (i % 2 === 0) bench.waitOut(outcome);
      else expect(right(outcome, { register: i })).toBe(true);
      most = Math.max(most, descriptors());
    }
    expect(most - before).toBeLessThanOrEqual(6);
    expect(bench.line.counters().connections).toBe(1001);
  });
});
