/**
 * Replies in segments: whole in every order the network may bring them, bounded where they do not end, and never mixed.
 */
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { LIMITS } from '../../../../agent/base/limits.ts';
import { BacnetPort } from '../../../../agent/sources/bacnet/port.ts';
import { readOne } from '../../../../agent/sources/bacnet/questions.ts';
import { FakeTime, seeded, until } from '../../../unit/sources/fake-time.ts';
import { Bench, stride } from './bench.ts';
import { type Asked, segment } from './frames.ts';
import { type Behaviour, contentOfReply, honest, LyingDevice, segmented } from './lying-device.ts';

let time: FakeTime;
let device: LyingDevice;
let port: BacnetPort;
const owner = {};

beforeEach(async () => {
  time = new FakeTime();
  device = await LyingDevice.listen();
  port = new BacnetPort({ local: { host: '127.0.0.1', port: 0 }, clock: time, timers: time, random: seeded(2) });
  await port.attach(owner);
});
afterEach(async () => {
  await port.release(owner);
  expect(time.waiting).toBe(0);
  await device.close();
});

async function objectList(from: LyingDevice = device, stepMs = 10) {
  const question = readOne({ object: { type: 8, instance: from.instance }, property: 76 });
  const address = { host: from.host, port: from.port, network: null, mac: new Uint8Array(0) };
  const asked = port.exchange(address, { owner, timeoutMs: 500, ...question });
  let over = false;
  void asked.then(() => (over = true));
  await stride(time, () => over, stepMs);
  return asked;
}

const objects = (count: number, from = 0) =>
  Array.from({ length: count }, (_, i) => ({ type: i % 3, instance: from + i }));

async function isWhole(behaviour: Behaviour, count = 200): Promise<void> {
  device.objectList = objects(count);
  device.behaviour = behaviour;
  const outcome = await objectList();
  if (outcome.kind !== 'reply') throw new Error(JSON.stringify(outcome));
  expect(outcome.value).toEqual(device.objectList.map((value) => ({ type: 'object', value })));
}

/** Disturbs each window once: the sender's second try goes through. */
function once(disturb: (frames: Buffer[], first: number) => Buffer[]): (frames: Buffer[], first: number) => Buffer[] {
  const done = new Set<number>();
  return (frames, first) => {
    if (done.has(first)) return frames;
    done.add(first);
    return disturb(frames, first);
  };
}

describe('a reply in segments is whole', () => {
  test.each([1, 2, 4, 16, 127])('window %i', async (window) => {
    await isWhole(segmented({ size: 50, window }));
    expect(device.segmentAcks.every(({ negative }) => !negative)).toBe(true);
    expect(device.segmentAcks.map(({ window: agreed }) => agreed)).toEqual(
      device.segmentAcks.map(() => Math.min(window, LIMITS.bacnet_window_max)),
    );
  });
  test('the first, the end of each window and the last are acknowledged, and no other', async () => {
    await isWhole(segmented({ size: 100, window: 4 }));
    // 1008 bytes are 11 segments: 0, then 1 to 4, 5 to 8, 9 and 10
    await until(() => device.segmentAcks.length >= 4);
    expect(device.segmentAcks.map(({ sequence }) => sequence)).toEqual([0, 4, 8, 10]);
  });
  test('300 segments: the sequence runs modulo 256', async () => {
    await isWhole(segmented({ size: 50, window: 8 }), 2998);
    await until(() => device.segmentAcks.at(-1)?.sequence === 299 % 256);
  });
  test('one segment that says it is one', async () => {
    await isWhole(segmented({ size: 5000, window: 1 }));
  });
  test('copies of every segment', async () => {
    await isWhole(segmented({ size: 50, window: 4, disturb: (frames) => frames.flatMap((frame) => [frame, frame]) }));
  });
  test('copies of a window behind it', async () => {
    await isWhole(segmented({ size: 50, window: 4, disturb: once((frames) => [...frames, ...frames]) }));
  });
  test('out of order: asked for again', async () => {
    await isWhole(segmented({ size: 50, window: 4, disturb: once((frames) => frames.toReversed()) }));
    expect(device.segmentAcks.some(({ negative }) => negative)).toBe(true);
  });
  test('one lost of each window: asked for again', async () => {
    const disturb = once((frames) => (frames.length > 2 ? frames.filter((_, i) => i !== 1) : frames));
    await isWhole(segmented({ size: 50, window: 4, disturb }));
    expect(device.segmentAcks.filter(({ negative }) => negative).length).toBeGreaterThan(3);
  });
  test('two devices at once, under the same id: nothing is mixed', async () => {
    const other = await LyingDevice.listen({ host: '127.0.0.9', instance: 43 });
    [device.objectList, other.objectList] = [objects(300), objects(300, 100_000)];
    [device.behaviour, other.behaviour] = [segmented({ size: 50, window: 3 }), segmented({ size: 50, window: 5 })];
    for (let i = 0; i < 20; i += 1) {
      const [one, two] = await Promise.all([objectList(), objectList(other)]);
      expect(one).toMatchObject({ kind: 'reply', value: device.objectList.map((value) => ({ value })) });
      expect(two).toMatchObject({ kind: 'reply', value: other.objectList.map((value) => ({ value })) });
    }
    await other.close();
  });
  test('a segment of an earlier reply, of the same place and another id, is no part of it', async () => {
    await isWhole((asked, one) => {
      const stale = segment(
        { ...asked, invokeId: (asked.invokeId % 255) + 1 },
        { sequence: 1, more: true, window: 4, content: Buffer.alloc(50, 0x2f) },
      );
      segmented({ size: 50, window: 4, disturb: (frames) => [stale, ...frames, stale] })(asked, one);
    });
  });
});

describe('a reply in segments that comes to nothing', () => {
  test('endless: aborted at the bound, the device told', async () => {
    device.behaviour = (asked, one) => {
      const part = (sequence: number): Buffer =>
        segment(asked, { sequence, more: true, window: 16, content: Buffer.alloc(60, 0x21) });
      let next = 1;
      one.onSegmentAck = ({ window }) => {
        for (let i = 0; i < window; i += 1, next += 1) one.send(part(next), asked.from);
      };
      one.send(part(0), asked.from);
    };
    const outcome = await objectList();
    expect(outcome).toEqual({ kind: 'failed', cause: 'malformed', reason: 'a reply in segments without end' });
    expect(device.segmentAcks.length).toBeLessThan(2 * LIMITS.bacnet_segments_max);
    await until(() => device.other.length === 1 + LIMITS.bacnet_retries);
    const [abort] = device.other;
    expect([abort![0], abort![1], abort![2]]).toEqual([0x70, device.asked.at(-2)!.invokeId, 1]);
  });
  test('endless in time: a segment just before each deadline ends at the bound of the whole', async () => {
    device.behaviour = (asked, one) => {
      let sequence = 0;
      const next = (): void => {
        one.send(segment(asked, { sequence, more: true, window: 1, content: Buffer.alloc(5, 0x21) }), asked.from);
        sequence += 1;
        if (sequence < 1000) time.after(400, next);
      };
      next();
    };
    const since = time.monotonic();
    expect(await objectList(device, 50)).toMatchObject({
      kind: 'failed',
      cause: 'silent',
      reason: /a reply in segments, not complete/ as never,
    });
    expect(time.monotonic() - since).toBeLessThan((1 + LIMITS.bacnet_retries) * (LIMITS.bacnet_reply_ms_max + 1000));
    time.advance(1_000_000);
  });
  test.each([
    [
      'that stops',
      (asked: Asked, one: LyingDevice) =>
        one.send(segment(asked, { sequence: 0, more: true, window: 4, content: Buffer.alloc(50) }), asked.from),
    ],
    [
      'that begins in the middle',
      (asked: Asked, one: LyingDevice) =>
        one.send(
          segment(asked, { sequence: 3, more: false, window: 4, content: contentOfReply(asked, one) }),
          asked.from,
        ),
    ],
    [
      'of another service',
      (asked: Asked, one: LyingDevice) =>
        one.send(
          segment(
            { ...asked, service: 14 },
            { sequence: 0, more: false, window: 4, content: contentOfReply(asked, one) },
          ),
          asked.from,
        ),
    ],
    [
      'whose content does not belong',
      (asked: Asked, one: LyingDevice) =>
        one.send(
          segment(asked, {
            sequence: 0,
            more: false,
            window: 4,
            content: Buffer.from('0c00000001195a3e21053f', 'hex'),
          }),
          asked.from,
        ),
    ],
  ])('%s', async (_, behaviour) => {
    device.objectList = objects(20);
    device.behaviour = behaviour;
    expect(await objectList()).toMatchObject({ kind: 'failed' });
    device.behaviour = honest;
    expect(await objectList()).toMatchObject({ kind: 'reply' });
  });
});

test('points are read by segments where the device sends them, with requests as large as it takes', async () => {
  const small = await LyingDevice.listen({ host: '127.0.0.10' });
  small.maxApdu = 128;
  small.segmentation = 1;
  small.behaviour = (asked, one) =>
    asked.service === 14 ? segmented({ size: 80, window: 2 })(asked, one) : one.answer(asked);
  const bench = new Bench({ device: small, points: 40 });
  await bench.connect();
  bench.allRight();
  const largest = Math.max(...small.asked.map(({ objects: { length } }) => length));
  expect(largest).toBeGreaterThan(4);
  expect(Math.max(...small.asked.map(({ apdu }) => apdu.length))).toBeLessThanOrEqual(128);
  await bench.close();
});
