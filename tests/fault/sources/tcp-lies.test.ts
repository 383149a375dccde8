/**
 * Replies that are not what was asked, over a real socket: refused, said why, and right values again after one
 * back-off.
 */
import { describe, expect, test } from 'vitest';
import { settled, until } from '../../unit/sources/fake-time.ts';
import { FaultRig, failed, right } from './bench-line.ts';
import { type Asked, type Behaviour, exception, honest } from './lying-server.ts';

const rig = new FaultRig();

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
    rig.server.behaviour = behaviour;
    const outcome = failed(await rig.bench.read());
    expect(outcome).toMatchObject({ code: 'controller_malformed', attempted: true });
    expect(outcome.reason).toMatch(reason);
    await rig.recovers(outcome);
    expect(rig.bench.line.counters().connections).toBe(2);
  });

  test('an extra byte that arrives behind a good reply costs the connection, not the value', async () => {
    rig.server.behaviour = (asked, socket) => {
      socket.write(honest(asked), () => setImmediate(() => socket.write(Buffer.from([0x55]))));
    };
    let wrong = 0;
    for (let i = 0; i < 50; i += 1) {
      const outcome = await rig.bench.read({ register: i });
      if (outcome.kind === 'reply' && !right(outcome, { register: i })) wrong += 1;
      rig.bench.waitOut(outcome);
      await settled();
    }
    expect(wrong).toBe(0);
    expect(rig.bench.line.counters().connections).toBeGreaterThan(10);
  });

  test('bytes that nobody asked for, while the line is idle, cost the connection', async () => {
    expect(right(await rig.bench.read())).toBe(true);
    rig.server.connections[0]!.write(
      honest({ ...rig.server.asked[0]!, id: rig.server.asked[0]!.id ^ 0x1234, register: 500 }),
    );
    await until(() => rig.server.connections[0]!.destroyed);
    expect(right(await rig.bench.read({ register: 7 }), { register: 7 })).toBe(true);
    expect(rig.server.connections.length).toBe(2);
  });

  test.each([1, 7, 8, 9, 16])('a reply cut off after %i bytes', async (length) => {
    rig.server.behaviour = (asked, socket) => {
      socket.write(honest(asked).subarray(0, length));
    };
    const read = rig.bench.read();
    await until(() => rig.server.requests === 1);
    await settled();
    rig.bench.time.advance(1000);
    const outcome = failed(await read);
    expect(outcome.reason).toBe(`reply incomplete: ${length} bytes within 1000 ms`);
    await rig.recovers(outcome);
  });
});
