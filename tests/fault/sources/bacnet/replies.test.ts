/**
 * Replies that are late, double, foreign, cut or lie: a value is taken from none of them, the source names what it saw,
 * and is back within one back-off once the device behaves.
 */
import { createSocket } from 'node:dgram';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { until } from '../../../unit/sources/fake-time.ts';
import { Bench, TIMEOUT_MS } from './bench.ts';
import { type Asked, framed, multipleReply, READ_MULTIPLE, real, simpleAck } from './frames.ts';
import { type Behaviour, honest, LyingDevice, silent } from './lying-device.ts';

let device: LyingDevice;
let bench: Bench;

beforeEach(async () => {
  device = await LyingDevice.listen();
  bench = new Bench({ device });
  await bench.connect();
});
afterEach(async () => {
  bench.allRight(device.version === 0 ? [0] : [0, device.version]);
  await bench.close();
});

/** Sends what `change` makes of the honest reply. */
const changed =
  (change: (reply: Buffer, asked: Asked) => Uint8Array): Behaviour =>
  (asked, one) =>
    one.send(change(Buffer.from(one.reply(asked)), asked), asked.from);
const raw =
  (change: (frame: Buffer) => Uint8Array): Behaviour =>
  (asked, one) =>
    one.sendRaw(change(framed(one.reply(asked))), asked.from);

const put = (bytes: Buffer, at: number, value: number): Buffer => {
  bytes[at] = value;
  return bytes;
};

describe('the device is lost, and comes back in one back-off', () => {
  const NO_REPLY = /^no reply within 500 ms$/;
  const cases: readonly (readonly [string, Behaviour, RegExp])[] = [
    ['silent', silent, NO_REPLY],
    ['wrong invoke id', changed((reply) => put(reply, 1, (reply[1]! + 1) & 255)), NO_REPLY],
    ['truncated', raw((frame) => frame.subarray(0, frame.length - 3)), NO_REPLY],
    [
      'truncated, with a length that agrees',
      changed((reply) => reply.subarray(0, -3)),
      /did not belong: a length beyond the end/,
    ],
    ['a BVLC length that lies', raw((frame) => put(frame, 3, frame[3]! - 1)), NO_REPLY],
    ['a value length that lies', changed((reply) => put(reply, 12, 0x45)), /did not belong: /],
    ['a byte too many', changed((reply) => Buffer.concat([reply, Buffer.of(0)])), /did not belong: /],
    [
      'another object',
      changed((reply) => put(reply, 7, reply[7]! ^ 32)),
      /did not belong: of another object or property/,
    ],
    ['another property', changed((reply) => put(reply, 10, 28)), /did not belong: of another object or property/],
    ['another service', changed((reply) => put(reply, 2, 12)), /did not belong: of another service/],
    [
      'an acknowledgement alone',
      (asked, one) => one.send(simpleAck(asked), asked.from),
      /did not belong: an acknowledgement without content/,
    ],
    ['an abort of a requester', changed((_, asked) => Buffer.from([0x70, asked.invokeId, 0])), NO_REPLY],
    [
      'fewer objects',
      changed((_, asked) =>
        multipleReply({ ...asked, objects: asked.objects.slice(1) }, (o, p) => device.content(o, p)),
      ),
      /did not belong: /,
    ],
    [
      'more objects',
      changed((_, asked) =>
        multipleReply({ ...asked, objects: [...asked.objects, asked.objects[0]!] }, (o, p) => device.content(o, p)),
      ),
      /did not belong: more properties than asked for/,
    ],
    [
      'objects in another order',
      changed((_, asked) =>
        multipleReply({ ...asked, objects: asked.objects.toReversed() }, (o, p) => device.content(o, p)),
      ),
      /did not belong: of another object/,
    ],
    ['a network message', raw((frame) => put(frame, 5, 0x80)), NO_REPLY],
    [
      'from behind a router',
      (asked, one) => {
        const reply = one.reply(asked);
        one.sendRaw(Buffer.from([0x81, 10, 0, reply.length + 10, 1, 8, 0, 7, 1, 5, ...reply]), asked.from);
      },
      NO_REPLY,
    ],
    [
      'passed on by somebody',
      (asked, one) => {
        const reply = one.reply(asked);
        const origin = [127, 0, 0, 5, one.port >> 8, one.port & 255];
        one.sendRaw(Buffer.from([0x81, 4, 0, reply.length + 12, ...origin, 1, 0, ...reply]), asked.from);
      },
      NO_REPLY,
    ],
    ['text', raw(() => Buffer.from('HTTP/1.1 400 Bad Request\r\n\r\n')), NO_REPLY],
    ['nothing at all in a datagram', raw(() => Buffer.alloc(0)), NO_REPLY],
  ];
  test.each(cases)('%s', async (_, behaviour, reason) => {
    expect(await bench.loses(behaviour)).toMatch(reason);
    expect(bench.counter('timeouts') + bench.counter('anomalies')).toBe(1);
  });
});

describe('values of the past', () => {
  test('a reply after its deadline answers nothing later', async () => {
    const late: Asked[] = [];
    device.behaviour = (asked) => void late.push(asked);
    await bench.until(() => bench.state === 'lost');
    const old = late.map((asked) => ({ asked, reply: device.reply(asked) }));
    device.version = 1;
    // every later question is answered first by all that was left over, then rightly
    device.behaviour = (asked, one) => {
      for (const { reply } of old) one.send(reply, asked.from);
      one.answer(asked);
    };
    const from = bench.sink.samples.length;
    await bench.until(() => bench.readAll(from));
    await bench.strides(() => bench.sink.samples.length > from + 150);
    for (const { point, raw: value } of bench.sink.samples.slice(from))
      if (value !== null) expect([point, value]).toEqual([point, Number(point.split('.')[1]) + 1 / 1024]);
    expect(bench.counter('datagrams_stray')).toBeGreaterThan(40);
  });

  test('a device frozen for 300 polls that then answers all it was asked', async () => {
    const held: Asked[] = [];
    device.behaviour = (asked) => void held.push(asked);
    await bench.until(() => bench.state === 'lost');
    while (held.length < 300) {
      bench.time.advance(61_000);
      await new Promise((resolve) => setTimeout(resolve, 1));
    }
    device.version = 2;
    const replies = held.map((asked) => device.reply(asked));
    device.version = 3;
    const from = bench.sink.samples.length;
    device.behaviour = (asked, one) => {
      for (const reply of replies.splice(0)) one.send(reply, asked.from);
      one.answer(asked);
    };
    await bench.strides(() => bench.readAll(from), 100);
    const values = bench.sink.samples.slice(from).filter(({ raw: value }) => value !== null);
    for (const { point, raw: value } of values)
      expect([point, value]).toEqual([point, Number(point.split('.')[1]) + 3 / 1024]);
    device.behaviour = honest;
  });

  test('an id that got no reply rests while others are used', async () => {
    const busy = await LyingDevice.listen({ host: '127.0.0.8' });
    const quick = new Bench({ device: busy, settings: { poll_s: 0.1, fast_s: 0.1 } });
    await quick.connect();
    busy.behaviour = silent;
    await quick.until(() => quick.state === 'lost');
    const unanswered = new Set(busy.asked.slice(-2).map(({ invokeId }) => invokeId));
    expect(unanswered.size).toBe(2);
    busy.behaviour = honest;
    const [from, since] = [busy.asked.length, quick.time.monotonic()];
    // more questions than there are ids, in less time than the rest
    await quick.strides(() => busy.asked.length > from + 300);
    expect(quick.time.monotonic() - since).toBeLessThan(110_000);
    const used = busy.asked.slice(from).map(({ invokeId }) => invokeId);
    expect(used.filter((id) => unanswered.has(id) || id === 0)).toEqual([]);
    expect(new Set(used).size).toBe(253);
    await quick.close();
  });

  test('every reply twice, and ten times: copies are dropped, nothing is lost', async () => {
    for (const copies of [2, 10]) {
      device.behaviour = (asked, one) => {
        for (let i = 0; i < copies; i += 1) one.answer(asked);
      };
      const from = bench.sink.samples.length;
      await bench.strides(() => bench.sink.samples.length > from + 100);
      expect(bench.sink.samples.slice(from).every(({ raw: value }) => value !== null)).toBe(true);
    }
    expect([bench.counter('timeouts'), bench.counter('anomalies'), bench.state]).toEqual([0, 0, 'connected']);
  });
});

describe('another address', () => {
  test('a reply from another address, with the right id and content, is not taken', async () => {
    const impostor = createSocket('udp4');
    await new Promise<void>((resolve) => impostor.bind(0, '127.0.0.6', resolve));
    const twin = createSocket('udp4');
    await new Promise<void>((resolve) => twin.bind(0, '127.0.0.5', resolve));
    const wrong = (asked: Asked): Buffer =>
      framed(multipleReply(asked, (_, p) => (p === 85 ? real(-1) : device.content({ type: 0, instance: 1 }, p))));
    device.behaviour = (asked, one) => {
      if (asked.service !== READ_MULTIPLE) return one.answer(asked);
      // another host, and another port of the same one; the right reply comes last
      impostor.send(wrong(asked), asked.from.port, asked.from.host, () =>
        twin.send(wrong(asked), asked.from.port, asked.from.host, () => one.answer(asked)),
      );
    };
    const from = bench.sink.samples.length;
    await bench.until(() => bench.sink.samples.length > from + 60);
    expect(bench.sink.samples.slice(from).every(({ raw: value }) => value !== null && value > 0)).toBe(true);
    expect(bench.counter('datagrams_stray')).toBeGreaterThan(10);
    impostor.close();
    twin.close();
  });

  test('an I-Am of an impostor does not move the link; it is named', async () => {
    const impostor = await LyingDevice.listen({ host: '127.0.0.7', instance: device.instance });
    impostor.version = 9;
    const to = { host: '127.0.0.1', port: await bench.port.localPort() };
    const [from, asked] = [bench.sink.samples.length, device.asked.length];
    const { iAm } = await import('./frames.ts');
    impostor.send(iAm(device.instance), to);
    await until(() => bench.reason !== null);
    expect(bench.source.status()).toMatchObject({
      state: 'connected',
      reason: `device 42 also answers from ${impostor.address}, which is not read`,
    });
    await bench.until(() => bench.sink.samples.length > from + 30);
    expect([impostor.asked.length, device.asked.length > asked]).toEqual([0, true]);
    expect(bench.warnings.filter(({ code }) => code === 'bacnet_instance_twice').length).toBe(1);
    await impostor.close();
  });
});

test('slow, but within the deadline, is right', async () => {
  device.behaviour = (asked, one) => {
    bench.time.after(TIMEOUT_MS - 50, () => one.answer(asked));
  };
  const from = bench.sink.samples.length;
  await bench.until(() => bench.sink.samples.length > from + 30);
  expect(bench.sink.samples.slice(from).every(({ raw: value }) => value !== null)).toBe(true);
  device.behaviour = honest;
  await bench.until(() => bench.time.waiting <= 1);
});

test('a lost reply costs a second question, not the device', async () => {
  let turn = 0;
  device.behaviour = (asked, one) => {
    turn += 1;
    if (turn % 2 === 0) one.answer(asked);
  };
  const from = bench.sink.samples.length;
  await bench.until(() => bench.sink.samples.length > from + 30);
  expect(bench.sink.samples.slice(from).every(({ raw: value }) => value !== null)).toBe(true);
  expect(bench.state).toBe('connected');
  device.behaviour = honest;
});

test('requests to the agent are not answered, whatever they are', async () => {
  const to = { host: '127.0.0.1', port: await bench.port.localPort() };
  const from = device.other.length + device.segmentAcks.length;
  for (let service = 0; service < 256; service += 1) {
    device.send(Uint8Array.from([0x02, 0x75, 7, service, 0x0c, 0, 0, 0, 1, 0x19, 85]), to);
    device.send(Uint8Array.from([0x0e, 0x75, 7, 0, 4, service, 0x0c, 0, 0, 0, 1]), to);
    device.send(Uint8Array.from([0x10, service, 0x09, 0, 0x1b, 255, 255, 255]), to);
  }
  const samples = bench.sink.samples.length;
  await bench.until(() => bench.sink.samples.length > samples + 30);
  expect(device.other.length + device.segmentAcks.length).toBe(from);
  expect(device.asked.every(({ service }) => [12, 14].includes(service))).toBe(true);
});
