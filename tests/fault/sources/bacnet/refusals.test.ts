/** Errors, rejects and aborts of every kind; devices that can do less, start anew, or report what nobody asked for. */
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { LIMITS } from '../../../../agent/base/limits.ts';
import { until } from '../../../unit/sources/fake-time.ts';
import { Bench, type BenchOptions } from './bench.ts';
import { type Asked, abortReply, errorReply, READ, READ_MULTIPLE, rejectReply, report, SUBSCRIBE } from './frames.ts';
import { type Behaviour, honest, LyingDevice } from './lying-device.ts';

let device: LyingDevice;
let bench: Bench;

beforeEach(async () => {
  device = await LyingDevice.listen();
});
afterEach(async () => {
  bench.allRight([0, device.version]);
  await bench.close();
});

async function connect(options: Omit<BenchOptions, 'device'> = {}): Promise<void> {
  bench = new Bench({ device, ...options });
  await bench.connect();
}

const size = ({ objects: { length } }: Asked): number => length;
const multiples = (): Asked[] => device.asked.filter(({ service }) => service === READ_MULTIPLE);

/** Refuses what `when` holds for, answers the rest. */
const refusing =
  (when: (asked: Asked) => boolean, refuse: (asked: Asked) => Buffer): Behaviour =>
  (asked, one) =>
    when(asked) ? one.send(refuse(asked), asked.from) : one.answer(asked);

describe('a device that cannot do all at once is asked for less, and the lesson is kept', () => {
  const refusals: readonly (readonly [string, (asked: Asked) => Buffer])[] = [
    ['abort segmentation-not-supported', (asked) => abortReply(asked, 4)],
    ['abort buffer-overflow', (asked) => abortReply(asked, 1)],
    ['abort out-of-resources', (asked) => abortReply(asked, 9)],
    ['abort other', (asked) => abortReply(asked, 0)],
    ['reject too-many-arguments', (asked) => rejectReply(asked, 7)],
    ['reject other', (asked) => rejectReply(asked, 0)],
    ['error', (asked) => errorReply(asked, 5, 0)],
  ];
  test.each(refusals)('%s above 4 objects', async (_, refuse) => {
    device.behaviour = refusing((asked) => asked.service === READ_MULTIPLE && size(asked) > 4, refuse);
    await connect({ points: 20 });
    const from = device.asked.length;
    const samples = bench.sink.samples.length;
    await bench.until(() => bench.sink.samples.length >= samples + 60);
    const later = device.asked.slice(from);
    expect(later.every((asked) => asked.service === READ_MULTIPLE && size(asked) <= 4)).toBe(true);
    expect(Math.max(...later.map(size))).toBeGreaterThanOrEqual(2);
    // after an hour it is tried whole again
    device.behaviour = honest;
    bench.time.advance(1000 * LIMITS.bacnet_rejoin_s);
    await bench.until(() => size(device.asked.at(-1)!) === 20);
  });

  test('an unknown service: ReadProperty one by one from then on', async () => {
    device.behaviour = refusing(
      ({ service }) => service === READ_MULTIPLE,
      (asked) => rejectReply(asked, 9),
    );
    await connect();
    expect(multiples().length).toBe(1);
    const from = device.asked.length;
    const samples = bench.sink.samples.length;
    await bench.until(() => bench.sink.samples.length >= samples + 12);
    expect(device.asked.slice(from).every(({ service }) => service === READ)).toBe(true);
  });

  test('an object that spoils every request it is part of is read apart, the others together', async () => {
    const spoilt = (asked: Asked): boolean =>
      asked.service === READ_MULTIPLE && asked.objects.some(({ object }) => object.instance === 13);
    device.behaviour = refusing(spoilt, (asked) => errorReply(asked, 1, 31));
    await connect({ points: 20 });
    const from = device.asked.length;
    const samples = bench.sink.samples.length;
    await bench.until(() => bench.sink.samples.length >= samples + 40);
    const later = device.asked.slice(from);
    expect(later.filter(spoilt)).toEqual([]);
    expect(Math.max(...later.map(size))).toBe(19);
    expect(
      later.filter(({ service }) => service === READ).every(({ objects: [one] }) => one!.object.instance === 13),
    ).toBe(true);
  });

  test('requests fit the size the device gives', async () => {
    device.maxApdu = 50;
    await connect({ points: 5 });
    expect(multiples().every((asked) => size(asked) === 1 && asked.apdu.length <= 50)).toBe(true);
    await bench.close();
    device = await LyingDevice.listen();
    device.maxApdu = 480;
    await connect({ points: 60 });
    expect(Math.max(...multiples().map((asked) => device.reply(asked).length))).toBeLessThanOrEqual(480);
    expect(Math.max(...multiples().map(size))).toBeGreaterThan(8);
  });
});

describe('a device that refuses for good', () => {
  /** All that the standard names, some that it does not. */
  const reasons = [...Array.from({ length: 13 }, (_, reason) => reason), 63, 64, 127, 128, 255];
  const codes = [...Array.from({ length: 90 }, (_, code) => code), 127, 255];
  const kinds: readonly (readonly [string, number[], (asked: Asked, reason: number) => Buffer, RegExp])[] = [
    ['reject', reasons, rejectReply, /^rejected: \S+/],
    ['abort', reasons, abortReply, /^aborted: \S+/],
    ['error', codes, (asked, code) => errorReply(asked, code % 8, code), /^error \S+/],
  ];
  test.each(kinds)(
    '%s of every reason: each point says it, nothing is taken, the link stays',
    async (_, all, refuse, reason) => {
      await connect({ points: 2, settings: { poll_s: 0.1, fast_s: 0.1 } });
      for (const kind of all) {
        device.behaviour = refusing(
          () => true,
          (asked) => refuse(asked, kind),
        );
        const from = bench.sink.samples.length;
        // the question under way when the behaviour changed may still have been answered
        await bench.until(() => bench.sink.samples.length >= from + 4);
        const said = bench.sink.samples.slice(from + 2);
        expect(said.every((sample) => sample.raw === null && reason.test(sample.reason ?? ''))).toBe(true);
      }
      expect(bench.state).toBe('connected');
      device.behaviour = honest;
      const from = bench.sink.samples.length;
      await bench.until(() => bench.readAll(from));
      expect(new Set(bench.warnings.map(({ code }) => code))).toEqual(new Set(['controller_exception']));
    },
  );
});

describe('a device that starts anew', () => {
  test('is read again within one back-off, at its new values', async () => {
    await connect();
    await device.close();
    await bench.until(() => bench.state === 'lost');
    device.version = 5;
    await device.listen();
    await bench.recovers();
    expect(bench.sink.samples.at(-1)!.raw).toBe(6 + 5 / 1024);
    expect(bench.counter('reconnects')).toBe(1);
  });

  test('with another size: less is asked for', async () => {
    await connect({ points: 20 });
    await device.close();
    await bench.until(() => bench.state === 'lost');
    device.maxApdu = 206;
    await device.listen();
    const from = device.asked.length;
    await bench.recovers();
    expect(Math.max(...device.asked.slice(from).map(size))).toBeLessThanOrEqual(5);
  });

  test('at another address: found there by Who-Is', async () => {
    await device.hearBroadcasts();
    await connect({ settings: { address: undefined, broadcast: `127.255.255.255:${device.port}` } });
    const { port } = device;
    await device.close();
    await bench.until(() => bench.state === 'lost');
    const moved = await LyingDevice.listen({ host: '127.0.0.11', port });
    moved.version = 1;
    await moved.hearBroadcasts();
    const from = bench.sink.samples.length;
    await bench.until(() => bench.state === 'connected' && bench.readAll(from));
    expect(bench.sink.samples.at(-1)!.raw).toBe(6 + 1 / 1024);
    device.version = 1;
    await bench.source.stop();
    await moved.close();
  });
});

describe('reports of changes', () => {
  const object = { type: 0, instance: 1 };
  const to = async () => ({ host: '127.0.0.1', port: await bench.port.localPort() });
  /** Number of the subscription, from the request itself: context tag 0 at the front. */
  const processOf = ({ apdu }: Asked): number => apdu.readUIntBE(5, apdu[4]! & 7);
  const subscribed = async (): Promise<Asked> => {
    await connect({ cov: true });
    await bench.until(() => device.asked.some(({ service }) => service === SUBSCRIBE));
    return device.asked.find(({ service }) => service === SUBSCRIBE)!;
  };

  test('a confirmed one is taken and acknowledged; the same again is acknowledged and not taken', async () => {
    const process = processOf(await subscribed());
    device.version = 1;
    const one = report({ invokeId: 200, process, device: 42, object, value: device.value(object) });
    const count = bench.sink.of('point.1').length;
    device.send(one, await to());
    await until(() => device.other.length === 1);
    expect([...device.other[0]!]).toEqual([0x20, 200, 1]);
    expect(bench.sink.of('point.1').length).toBe(count + 1);
    expect(bench.sink.last('point.1')).toMatchObject({ raw: 1 + 1 / 1024 });
    for (let i = 2; i < 5; i += 1) {
      device.send(one, await to());
      await until(() => device.other.length === i);
    }
    expect(bench.sink.of('point.1').length).toBe(count + 1);
    expect(bench.counter('reports')).toBe(1);
  });

  test('not subscribed to, of another process, another device, another address: neither taken nor acknowledged', async () => {
    const process = processOf(await subscribed());
    // a device the same socket reads too, so that its address is a known one
    const impostor = await LyingDevice.listen({ host: '127.0.0.12' });
    const { host, port } = impostor;
    await bench.port.tell({ host, port, network: null, mac: new Uint8Array(0) }, READ, [0x0c, 0, 0, 0, 1, 0x19, 85]);
    const [count, target] = [bench.sink.samples.filter(({ raw }) => raw === -5).length, await to()];
    const common = { process, device: 42, object, value: -5 };
    for (const invokeId of [null, 9]) {
      impostor.send(report({ invokeId, ...common }), target);
      device.send(report({ invokeId, ...common, process: process + 1 }), target);
      device.send(report({ invokeId, ...common, device: 43 }), target);
      device.send(report({ invokeId, ...common, object: { type: 0, instance: 2 } }), target);
    }
    const strays = bench.counter('datagrams_stray');
    await bench.until(() => bench.counter('datagrams_stray') >= strays + 8);
    expect(bench.sink.samples.filter(({ raw }) => raw === -5).length).toBe(count);
    expect([device.other, impostor.other]).toEqual([[], []]);
    await impostor.close();
  });

  test('a device that reports nothing: the point is polled as the others, and it is said once', async () => {
    device.behaviour = refusing(
      ({ service }) => service === SUBSCRIBE,
      (asked) => errorReply(asked, 5, 43),
    );
    await connect({ cov: true });
    const from = bench.sink.samples.length;
    await bench.until(() => bench.sink.samples.length >= from + 60);
    const since = bench.sink.samples.slice(from);
    const countOf = (name: string): number => since.filter(({ point }) => point === name).length;
    expect(Math.abs(countOf('point.1') - countOf('point.2'))).toBeLessThanOrEqual(1);
    expect(bench.warnings).toMatchObject([
      { code: 'bacnet_cov_refused', points: ['point.1'], reason: 'error cov-subscription-failed (services)' },
    ]);
  });

  test('after the device was lost the point is subscribed anew', async () => {
    await subscribed();
    const count = (): number => device.asked.filter(({ service }) => service === SUBSCRIBE).length;
    expect(count()).toBe(1);
    await bench.loses(() => {});
    await bench.until(() => count() >= 2);
  });
});
