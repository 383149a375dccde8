/** The device without sockets: segments, repetition and lifetimes by a clock of the test, and datagrams gone wrong. */
import { describe, expect, test } from 'vitest';
import { BacnetDevice } from '../../../agent/plant/bacnet/device.ts';
import { ObjectTable } from '../../../agent/plant/bacnet/objects.ts';
import { CH2_DEVICE, CH2_POINTS } from '../../../agent/plant/kestrel-quay/ch2-points.ts';
import { RandomStream } from '../../../agent/plant/random.ts';

const FROM = { address: '127.0.0.9', port: 50_000 };

function device(limits = { subscriptions: 10, replies: 4 }) {
  const sent: Buffer[] = [];
  const table = new ObjectTable(CH2_POINTS, [], CH2_DEVICE);
  const one = new BacnetDevice(table, (datagram) => sent.push(datagram), limits);
  const take = (): Buffer[] => sent.splice(0);
  /** Application messages of what was sent, without envelope. */
  const apdus = (): Buffer[] => take().map((datagram) => datagram.subarray(6));
  return { one, table, take, apdus };
}

function datagram(...apdu: number[]): Buffer {
  const data = Buffer.from([0x81, 0x0a, 0, 0, 1, 4, ...apdu]);
  data.writeUInt16BE(data.length, 2);
  return data;
}

/** ReadProperty of the object list; `sizes`: most segments and longest message as numbered in clause 20.1.2. */
const readList = (sizes: number, invokeId = 1, accepts = true): Buffer =>
  datagram(accepts ? 0x02 : 0x00, sizes, invokeId, 12, 0x0c, 0x02, 0, 0x07, 0xd2, 0x19, 76);
const acknowledge = (sequence: number, window: number, invokeId = 1): Buffer =>
  datagram(0x40, invokeId, sequence, window);

describe('a reply in segments of 50 octets', () => {
  test('first one segment, then windows as acknowledged, whole at the end', () => {
    const { one, apdus } = device();
    one.receive(readList(0x00), FROM, 0);
    const got: Buffer[] = apdus();
    expect(got).toHaveLength(1);
    expect([...got[0]!.subarray(0, 5)]).toEqual([0x3c, 1, 0, 4, 12]);
    let sequence = 0;
    for (let round = 0; round < 50 && (got.at(-1)![0]! & 4) !== 0; round++) {
      one.receive(acknowledge(sequence, 3), FROM, 100 * round);
      const next = apdus();
      expect(next.length).toBeLessThanOrEqual(3);
      got.push(...next);
      sequence = next.at(-1)![2]!;
    }
    one.receive(acknowledge(sequence, 3), FROM, 9000);
    one.tick(60_000);
    expect(apdus()).toEqual([]);
    expect(got.map((segment) => segment[2])).toEqual(got.map((_, i) => i));
    for (const segment of got) expect(segment.length).toBeLessThanOrEqual(50);
    const body = Buffer.concat(got.map((segment) => segment.subarray(5)));
    // An application-tagged object identifier is five octets: clause 20.2.14.
    const head = [0x0c, 0x02, 0, 0x07, 0xd2, 0x19, 76, 0x3e];
    expect([...body.subarray(0, 8)]).toEqual(head);
    expect(body.length).toBe(head.length + 5 * (CH2_POINTS.length + 1) + 1);
  });

  test('a segment lost on the way: from the one after the last that arrived', () => {
    const { one, apdus } = device();
    one.receive(readList(0x00), FROM, 0);
    apdus();
    one.receive(acknowledge(0, 2), FROM, 10);
    expect(apdus().map((segment) => segment[2])).toEqual([1, 2]);
    // Negative: 2 did not come.
    one.receive(datagram(0x42, 1, 1, 2), FROM, 20);
    expect(apdus().map((segment) => segment[2])).toEqual([2, 3]);
  });

  test('sent again where nobody acknowledges, three times, then given up', () => {
    const { one, apdus } = device();
    one.receive(readList(0x00), FROM, 0);
    const first = apdus();
    const again: Buffer[] = [];
    for (let t = 250; t <= 20_000; t += 250) {
      one.tick(t);
      again.push(...apdus());
    }
    expect(again).toEqual([first[0], first[0], first[0]]);
    one.receive(acknowledge(0, 2), FROM, 21_000);
    expect(apdus()).toEqual([]);
  });

  test('an acknowledgement of what was never sent, or of another request, moves nothing; an abort ends it', () => {
    const { one, apdus } = device();
    one.receive(readList(0x00), FROM, 0);
    apdus();
    one.receive(acknowledge(5, 2), FROM, 10);
    one.receive(acknowledge(0, 2, 9), FROM, 10);
    one.receive(acknowledge(0, 2), { ...FROM, port: 50_001 }, 10);
    expect(apdus()).toEqual([]);
    one.receive(datagram(0x70, 1, 0), FROM, 20);
    one.tick(10_000);
    expect(apdus()).toEqual([]);
  });

  test('more segments than the client takes, or none taken: abort', () => {
    const { one, apdus } = device();
    one.receive(readList(0x10, 7), FROM, 0);
    expect([...apdus()[0]!]).toEqual([0x71, 7, 11]);
    one.receive(readList(0x00, 8, false), FROM, 0);
    expect([...apdus()[0]!]).toEqual([0x71, 8, 4]);
  });

  test('more long replies at once than there is room for: abort, out of resources', () => {
    const { one, apdus } = device({ subscriptions: 1, replies: 2 });
    for (const id of [1, 2, 3]) one.receive(readList(0x00, id), FROM, 0);
    const heads = apdus().map((apdu) => apdu[0]);
    expect(heads).toEqual([0x3c, 0x3c, 0x71]);
  });
});

describe('what it does not take', () => {
  test('a request in segments: abort 4; an unknown service: reject 9; a broken one: reject 4', () => {
    const { one, apdus } = device();
    one.receive(datagram(0x08, 5, 3, 0, 1, 12), FROM, 0);
    one.receive(datagram(0x00, 5, 4, 20), FROM, 0);
    one.receive(datagram(0x00, 5, 5, 12, 0x0c, 0x02), FROM, 0);
    expect(apdus().map((apdu) => [...apdu])).toEqual([
      [0x71, 3, 4],
      [0x60, 4, 9],
      [0x60, 5, 4],
    ]);
  });

  test('messages for other networks, network messages, replies, lies about length: silence', () => {
    const { one, take } = device();
    const read = readList(0x05).subarray(6);
    const other = Buffer.from([0x81, 0x0a, 0, 0, 1, 0x24, 0, 7, 1, 3, 0xff, ...read]);
    other.writeUInt16BE(other.length, 2);
    const long = readList(0x05);
    long.writeUInt16BE(long.length + 1, 2);
    const messages = [other, long, Buffer.from([0x81, 0x0a, 0, 7, 1, 0x80, 0]), datagram(0x30, 1, 12), Buffer.alloc(0)];
    for (const message of messages) one.receive(message, FROM, 0);
    expect(take()).toEqual([]);
  });
});

test('a confirmed report is repeated until acknowledged, and the subscription ends with its lifetime', () => {
  const { one, apdus } = device();
  // SubscribeCOV, process 18, analog-input 31, confirmed, 60 s, as Annex F.1.10 lays it out (from memory).
  one.receive(datagram(0x00, 5, 15, 5, 0x09, 18, 0x1c, 0, 0, 0, 31, 0x29, 1, 0x39, 60), FROM, 0);
  const [simple, report] = apdus();
  expect([...simple!]).toEqual([0x20, 15, 5]);
  expect([...report!.subarray(0, 4)]).toEqual([0x00, 0x05, 1, 1]);
  expect([...report!.subarray(4, 20)]).toEqual([
    9, 18, 0x1c, 0x02, 0, 7, 0xd2, 0x2c, 0, 0, 0, 31, 0x39, 60, 0x4e, 0x09,
  ]);
  one.tick(3100);
  expect(apdus()).toEqual([report]);
  one.receive(datagram(0x20, 1, 1), FROM, 3200);
  one.tick(10_000);
  expect(apdus()).toEqual([]);
  expect(one.subscriptions.size).toBe(1);
  one.tick(60_001);
  expect(one.subscriptions.size).toBe(0);
});

test('50,000 datagrams gone wrong: no exception, no value moved, the next clean read right', () => {
  const seed = 20_261;
  console.log(`mutations from ${seed}`);
  const random = new RandomStream(seed, 'mutations');
  const { one, table, take } = device();
  const below = (limit: number): number => Math.floor(random.uniform() * limit);
  const clean = [
    readList(0x05),
    readList(0x00),
    acknowledge(0, 2),
    datagram(0x00, 5, 15, 5, 0x09, 18, 0x1c, 0, 0, 0, 31, 0x29, 1, 0x39, 60),
    datagram(0x02, 0x75, 1, 14, 0x0c, 0, 0, 0, 1, 0x1e, 0x09, 8, 0x09, 85, 0x1f),
    datagram(0x10, 8, 0x09, 0, 0x1b, 0x3f, 0xff, 0xff),
    datagram(0x10, 7, 0x3d, 5, 0, ...Buffer.from('RUN')),
    datagram(0x00, 5, 9, 15, 0x0c, 0, 0x80, 0, 101, 0x19, 85, 0x3e, 0x44, 0x42, 0xc8, 0, 0, 0x3f),
  ];
  const reference = [...CH2_POINTS].map(({ object }) => table.monitored(0, object.instance));
  for (let i = 0; i < 50_000; i++) {
    const bytes = [...clean[below(clean.length)]!];
    for (let changes = 1 + below(4); changes > 0; changes--) {
      const at = below(bytes.length + 1);
      const kind = below(4);
      if (kind === 0) bytes.splice(at, 1);
      else if (kind === 1) bytes.splice(at, 0, below(256));
      else if (kind === 2) bytes[at] = below(256);
      else bytes.length = Math.min(bytes.length, at);
    }
    const data = Buffer.from(bytes);
    // Most keep a true length, so that they are read further than the envelope.
    if (below(4) > 0 && data.length > 3) data.writeUInt16BE(data.length, 2);
    one.receive(data, FROM, i);
    one.tick(i);
    take();
  }
  expect([...CH2_POINTS].map(({ object }) => table.monitored(0, object.instance))).toEqual(reference);
  expect(one.subscriptions.size).toBeLessThanOrEqual(10);
  one.receive(datagram(0x00, 5, 77, 12, 0x0c, 0x02, 0, 0x07, 0xd2, 0x19, 77), FROM, 60_000);
  const reply = take().find((each) => each[7] === 77);
  expect(reply!.includes(Buffer.from('CH-2'))).toBe(true);
});
