/**
 * What a source does beyond polling a fixed address, with devices of two foreign stacks: Who-Is, one socket for several
 * devices, registration with a BBMD, reports of changes, status flags, and the search of a scan.
 */
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { bacnetAddress, bacnetSource as settingsSchema } from '../../../agent/site/buses/bacnet.ts';
import { findDevices, listObjects } from '../../../agent/sources/bacnet/discover.ts';
import { BacnetPort, BacnetPorts } from '../../../agent/sources/bacnet/port.ts';
import { bacnetSource } from '../../../agent/sources/bacnet/source.ts';
import { FakeTime, seeded } from '../../unit/sources/fake-time.ts';
import { BacnetDevice, type Held, type Stack, TAG } from './bacnet-device.ts';
import { drive, Keeper } from './source-contract.ts';

const STACKS: readonly Stack[] = ['node-bacnet', '@bacnet-js/client'];
const real = (value: number): Held => ({ type: TAG.real, value });

let time: FakeTime;
let ports: BacnetPorts;
let warnings: Record<string, unknown>[];
let closing: (() => Promise<void>)[];

beforeEach(() => {
  time = new FakeTime();
  ports = new BacnetPorts({ clock: time, timers: time, random: seeded(5) });
  warnings = [];
  closing = [];
});
afterEach(async () => {
  for (const close of closing.reverse()) await close();
  expect(time.waiting).toBe(0);
});

/** As `drive`, for minutes: with deadlines of seconds, so that real I/O keeps well within them. */
async function hurry(condition: () => boolean): Promise<void> {
  while (!condition()) {
    await sleep(1);
    time.advance(100);
  }
}

async function device(options: { stack: Stack; host: string; instance: number; port?: number }): Promise<BacnetDevice> {
  const one = new BacnetDevice(options);
  one.port = options.port ?? 0;
  await one.listen();
  closing.push(() => one.close());
  return one;
}

type PointOf = { object: string; name?: string; cov?: boolean };

function source(settings: object, points: readonly PointOf[], chiller = 'CH-2') {
  const checked = settingsSchema.parse({
    interface: '127.0.0.1',
    port: 0,
    poll_s: 1,
    fast_s: 1,
    timeout_ms: 300,
    ...settings,
  });
  const log = { info: () => {}, warn: (fields: Record<string, unknown>) => warnings.push(fields) };
  const mapped = points.map(({ name = 'unit.power', ...address }) => ({
    name,
    fast: false,
    address: bacnetAddress.parse(address),
  }));
  const means = { clock: time, timers: time, random: seeded(9), log, port: ports.at(checked) };
  const built = must(bacnetSource({ chiller, settings: checked, points: mapped, ...means }));
  closing.push(() => built.stop());
  return built;
}

describe.each(STACKS)('with %s', (stack) => {
  test('a device is found by Who-Is to the broadcast address, and read', async () => {
    const one = await device({ stack, host: '127.0.0.3', instance: 77 });
    await one.hearBroadcasts();
    one.putPoint('analog-input:1', real(12.5));
    const sink = new Keeper();
    const reader = source({ device: 77, broadcast: `127.255.255.255:${one.port}` }, [{ object: 'analog-input:1' }]);
    await reader.start(sink);
    await drive(time, () => sink.last('unit.power')?.raw === 12.5);
    expect(reader.status()).toMatchObject({ state: 'connected', counters: { searches: 1 } });
  });

  test('registers with a BBMD before it asks through it, and renews at half the time to live', async () => {
    const one = await device({ stack, host: '127.0.0.3', instance: 77 });
    one.putPoint('analog-input:1', real(12.5));
    const sink = new Keeper();
    const foreign = { bbmd: one.address, ttl_s: 60 };
    const reader = source({ device: 77, foreign, timeout_ms: 3000 }, [{ object: 'analog-input:1' }]);
    await reader.start(sink);
    await drive(time, () => sink.last('unit.power')?.raw === 12.5);
    expect(one.registrations).toEqual([60]);
    await hurry(() => one.registrations.length >= 3);
    expect(time.monotonic()).toBeGreaterThanOrEqual(60_000);
    expect(time.monotonic()).toBeLessThan(75_000);
  });

  test('status flags and reliability decide before the value', async () => {
    const one = await device({ stack, host: '127.0.0.3', instance: 77 });
    one.putPoint('analog-input:1', real(1), { flags: { inAlarm: true } });
    one.putPoint('analog-input:2', real(2), { flags: { fault: true }, reliability: 1 });
    one.putPoint('analog-input:3', real(3), { flags: { fault: true } });
    one.putPoint('analog-input:4', real(4), { flags: { outOfService: true } });
    one.putPoint('analog-input:5', real(5), { flags: { overridden: true } });
    one.putPoint('analog-input:6', real(6), { reliability: 12 });
    one.put(0, 7, 85, real(7));
    one.put(0, 8, 77, { type: TAG.text, value: 'has no present value' });
    one.put(0, 9, 85, { type: TAG.text, value: 'warm' });
    const sink = new Keeper();
    const points = Array.from({ length: 10 }, (_, i) => ({ object: `analog-input:${i + 1}`, name: `point.${i + 1}` }));
    const reader = source({ device: 77, address: one.address }, points);
    await reader.start(sink);
    await drive(time, () => points.every(({ name }) => sink.last(name) !== undefined));
    const said = points.map(({ name }) => {
      const { raw, reason, doubt } = sink.last(name)!;
      return [raw, reason, doubt];
    });
    expect(said).toEqual([
      [1, undefined, undefined],
      [null, 'fault: no-sensor', undefined],
      [null, 'fault', undefined],
      [null, 'out of service', undefined],
      [5, undefined, 'overridden at the controller'],
      [null, 'fault: communication-failure', undefined],
      [7, undefined, undefined],
      [null, 'error unknown-property (property)', undefined],
      [null, 'not a number but of type string', undefined],
      [null, 'error unknown-object (object)', undefined],
    ]);
    expect(warnings.map(({ code, points }) => [code, ...(points as string[])])).toEqual([
      ['controller_exception', 'point.8'],
      ['controller_exception', 'point.10'],
    ]);
  });

  test('reports of changes arrive between polls, are renewed, and are cancelled at the end', async () => {
    const one = await device({ stack, host: '127.0.0.3', instance: 77 });
    one.putPoint('analog-input:1', real(1));
    one.putPoint('analog-input:2', real(1));
    const sink = new Keeper();
    const points = [
      { object: 'analog-input:1', name: 'reported', cov: true },
      { object: 'analog-input:2', name: 'polled' },
    ];
    const reader = source({ device: 77, address: one.address, timeout_ms: 3000 }, points);
    await reader.start(sink);
    await hurry(() => one.subscriptions.length === 1 && sink.last('reported') !== undefined);
    const before = sink.of('reported').length;
    for (const value of [2, 3]) {
      one.putPoint('analog-input:1', real(value), value === 3 ? { flags: { overridden: true } } : {});
      one.report(0, 1);
      await hurry(() => sink.last('reported')?.raw === value);
    }
    expect(sink.last('reported')).toMatchObject({ raw: 3, doubt: 'overridden at the controller' });
    const polled = sink.of('polled').length;
    await hurry(() => sink.of('polled').length >= polled + 20);
    // two reports, and beside them no more than one poll in a minute
    expect(sink.of('reported').length).toBeLessThanOrEqual(before + 3);
    const [subscribed] = one.subscriptions.splice(0);
    await hurry(() => one.subscriptions.length === 1);
    expect(one.subscriptions[0]).toEqual(subscribed);
    await hurry(() => time.monotonic() > 180_000);
    expect(sink.of('reported').length).toBeGreaterThan(before + 3);
    await reader.stop();
    await hurry(() => one.cancellations === 1);
    expect(one.subscriptions).toEqual([]);
  });

  test('a scan finds the devices of a range and lists their objects', async () => {
    const one = await device({ stack, host: '127.0.0.3', instance: 77 });
    await one.hearBroadcasts();
    const objects = [
      { type: 0, instance: 4 },
      { type: 4, instance: 0 },
      { type: 300, instance: 9 },
    ];
    one.put(8, 77, 76, ...[{ type: 8, instance: 77 }, ...objects].map((value) => ({ type: TAG.object, value })));
    one.put(0, 4, 77, { type: TAG.text, value: 'Evaporator pressure é' });
    one.put(0, 4, 28, { type: TAG.text, value: 'kilopascals absolute' });
    one.put(0, 4, 117, { type: TAG.enumerated, value: 54 });
    one.put(4, 0, 77, { type: TAG.text, value: 'Start' });
    const port = new BacnetPort({
      local: { host: '127.0.0.1', port: 0 },
      clock: time,
      timers: time,
      random: seeded(1),
    });
    const owner = {};
    await port.attach(owner);
    closing.push(() => port.release(owner));
    const search = async (low: number, high: number) => {
      const { signal } = new AbortController();
      const where = { broadcast: `127.255.255.255:${one.port}`, timeout_ms: 300 };
      const found = findDevices({ port, where, low, high, timers: time, signal });
      let over = false;
      void found.then(() => (over = true));
      await drive(time, () => over);
      return found;
    };
    expect(await search(78, 99)).toEqual({ ok: true, value: [] });
    const found = await search(0, 100);
    expect(found).toMatchObject({
      ok: true,
      value: [{ instance: 77, vendor: 999, maxApdu: 1476, segmentation: 'none' }],
    });
    if (!found.ok) throw new Error(found.fault);
    const listing = listObjects({
      port,
      device: found.value[0]!,
      timeoutMs: 1000,
      clock: time,
      timers: time,
      random: seeded(1),
    });
    expect(await listing).toEqual({
      ok: true,
      value: [
        {
          object: objects[0],
          address: 'analog-input:4',
          name: 'Evaporator pressure é',
          description: 'kilopascals absolute',
          units: 'kilopascals',
        },
        { object: objects[1], address: 'binary-output:0', name: 'Start', description: null, units: null },
        { object: objects[2], address: 'object-type-300:9', name: null, description: null, units: null },
      ],
    });
  });
});

test('devices of two stacks share one socket; the trouble of one does not touch the other', async () => {
  const one = await device({ stack: 'node-bacnet', host: '127.0.0.3', instance: 77 });
  const other = await device({ stack: '@bacnet-js/client', host: '127.0.0.4', instance: 78 });
  one.putPoint('analog-input:1', real(101));
  other.putPoint('analog-input:1', real(202));
  const sinks = [new Keeper(), new Keeper(), new Keeper()] as const;
  const readers = [
    source({ device: 77, address: one.address }, [{ object: 'analog-input:1' }], 'CH-1'),
    source({ device: 78, address: other.address }, [{ object: 'analog-input:1' }], 'CH-2'),
    source({ device: 5, address: other.address }, [{ object: 'analog-input:1' }], 'CH-3'),
  ] as const;
  for (const [i, reader] of readers.entries()) await reader.start(sinks[i]!);
  await drive(time, () => sinks.every((sink) => sink.samples.length >= 3));
  expect(readers.map((reader) => reader.status().state)).toEqual(['connected', 'connected', 'lost']);
  expect(readers[2].status().reason).toBe(`${other.address} is not device 5: error unknown-object (object)`);
  await one.close();
  await drive(time, () => readers[0].status().state === 'lost');
  const [before] = [sinks[1].samples.length];
  await drive(time, () => sinks[1].samples.length >= before + 10);
  expect(new Set(sinks[1].samples.map(({ raw }) => raw))).toEqual(new Set([202]));
  expect(readers[1].status().counters).toMatchObject({ timeouts: 0, anomalies: 0, reconnects: 0 });
  await one.listen();
  await drive(time, () => sinks[0].last('unit.power')?.raw === 101);
  expect(new Set(sinks[0].samples.map(({ raw }) => raw))).toEqual(new Set([101, null]));
});

test('two devices of one instance: neither is read while both answer', async () => {
  const one = await device({ stack: 'node-bacnet', host: '127.0.0.3', instance: 77 });
  const twin = await device({ stack: '@bacnet-js/client', host: '127.0.0.4', instance: 77, port: one.port });
  await one.hearBroadcasts();
  one.putPoint('analog-input:1', real(1));
  twin.putPoint('analog-input:1', real(2));
  // the broadcast is heard by one socket alone: it is passed to the twin while both are there
  let both = true;
  const heard = one.hear.bind(one);
  one.hear = (bytes, from) => {
    heard(bytes, from);
    if (both) twin.hear(bytes, from);
  };
  const sink = new Keeper();
  const reader = source({ device: 77, broadcast: `127.255.255.255:${one.port}` }, [{ object: 'analog-input:1' }]);
  await reader.start(sink);
  await drive(time, () => reader.status().state === 'lost');
  expect(reader.status().reason).toMatch(/^device 77 answers from 127\.0\.0\.[34]:\d+ and 127\.0\.0\.[34]:\d+$/);
  both = false;
  await drive(time, () => reader.status().state === 'connected');
  expect(new Set(sink.samples.map(({ raw }) => raw))).toEqual(new Set([null, 1]));
});
