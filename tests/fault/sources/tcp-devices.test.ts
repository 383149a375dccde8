/** Odd devices and many askers at once: what can be borne is borne and named, and nobody pays for another. */
import { describe, expect, test } from 'vitest';
import { settled, until } from '../../unit/sources/fake-time.ts';
import { FaultRig, right } from './bench-line.ts';
import { answer, type Behaviour, exception, honest } from './lying-server.ts';

const rig = new FaultRig();

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
    rig.server.behaviour = behaviour;
    for (let register = 0; register < 50; register += 1) {
      expect(right(await rig.bench.read({ register }), { register })).toBe(true);
    }
    expect(rig.server.connections.length).toBe(1);
    expect(rig.bench.line.remark()).toBe('the device sends its replies more than once (copies dropped)');
    expect(rig.bench.line.counters().duplicates).toBeGreaterThan(45);
    rig.server.behaviour = answer;
    await rig.bench.read({ register: 60 });
    await rig.bench.read({ register: 61 });
    await rig.bench.read({ register: 62 });
    expect(rig.bench.line.remark()).toBeNull();
  });

  test('one repeated without end is not borne', async () => {
    expect(right(await rig.bench.read())).toBe(true);
    for (let i = 0; i < 20; i += 1) rig.server.connections[0]!.write(honest(rig.server.asked[0]!));
    await until(() => rig.server.connections[0]!.destroyed);
    expect(right(await rig.bench.read({ register: 3 }), { register: 3 })).toBe(true);
  });
});

describe('exceptions', () => {
  test('every code is handed on and the connection stays', async () => {
    for (let code = 0; code <= 255; code += 1) {
      rig.server.behaviour = (asked, socket) => void socket.write(exception(asked, code));
      expect(await rig.bench.read()).toEqual({ kind: 'exception', code });
    }
    rig.server.behaviour = answer;
    expect(right(await rig.bench.read())).toBe(true);
    expect(rig.server.connections.length).toBe(1);
  });
});

describe('many askers at once', () => {
  test('300 reads of five units at once: one in flight, each the value of its own unit and address', async () => {
    let inFlight = 0;
    let most = 0;
    rig.server.behaviour = (asked, socket) => {
      inFlight += 1;
      most = Math.max(most, inFlight);
      setImmediate(() => {
        inFlight -= 1;
        socket.write(honest(asked));
      });
    };
    const wanted = Array.from({ length: 300 }, (_, i) => ({ unit: 1 + (i % 5), register: i, count: 1 + (i % 7) }));
    const outcomes = await Promise.all(wanted.map((want) => rig.bench.read(want)));
    expect(outcomes.filter((outcome, i) => right(outcome, wanted[i])).length).toBe(300);
    expect(most).toBe(1);
    expect(rig.server.connections.length).toBe(1);
  });

  test('a dead unit behind a gateway rests alone: the living one is read at every try', async () => {
    rig.server.behaviour = (asked, socket, self) => (asked.unit === 2 ? undefined : answer(asked, socket, self));
    for (let i = 0; i < 20; i += 1) {
      const before = rig.server.requests;
      const dead = rig.bench.read({ unit: 2, register: i });
      await settled();
      if (rig.server.requests > before) rig.bench.time.advance(1000);
      expect((await dead).kind).toBe('failed');
      expect(right(await rig.bench.read({ unit: 1, register: i }), { unit: 1, register: i })).toBe(true);
    }
    // the pause of the dead unit grew: fewer tries than turns
    expect(rig.server.asked.filter(({ unit }) => unit === 2).length).toBeLessThan(20);
  });
});
