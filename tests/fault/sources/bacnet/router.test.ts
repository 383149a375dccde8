/** Devices of a serial network behind a router: found with its number, told apart by their address there. */
import { createSocket } from 'node:dgram';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { must } from '../../../../agent/base/result.ts';
import { bacnetAddress, bacnetSource as settingsSchema } from '../../../../agent/site/buses/bacnet.ts';
import { BacnetPort } from '../../../../agent/sources/bacnet/port.ts';
import { bacnetSource } from '../../../../agent/sources/bacnet/source.ts';
import { drive, Keeper } from '../../../contract/sources/source-contract.ts';
import { FakeTime, seeded } from '../../../unit/sources/fake-time.ts';
import { type Asked, iAm, parseRequest } from './frames.ts';
import { LyingDevice } from './lying-device.ts';

const NETWORK = 2001;

/** Passes what is addressed to its network on to devices in memory, and their answers back, as clause 6.5 has it. */
class Router {
  readonly socket = createSocket('udp4');
  readonly #devices = new Map<number, LyingDevice>();
  readonly silent = new Set<number>();
  hops: number[] = [];

  async listen(): Promise<void> {
    await new Promise<void>((resolve) => this.socket.bind(0, '127.0.0.13', resolve));
    this.socket.on('message', (bytes, { address: host, port }) => this.#received(bytes, { host, port }));
  }

  get address(): string {
    return `127.0.0.13:${this.socket.address().port}`;
  }

  add(mac: number, instance: number, version: number): void {
    const device = new LyingDevice({ instance, host: 'behind the router' });
    device.version = version;
    device.maxApdu = 480;
    this.#devices.set(mac, device);
  }

  #received(bytes: Buffer, from: Asked['from']): void {
    const [, , , , version, control = 0] = bytes;
    if (version !== 1 || (control & 0x20) === 0 || bytes.readUInt16BE(6) !== NETWORK) return;
    const length = bytes[8] ?? 0;
    this.hops.push(bytes[9 + length] ?? 0);
    const apdu = bytes.subarray(10 + length);
    const wanted = length === 0 ? [...this.#devices.keys()] : [bytes[9] ?? 0];
    for (const mac of wanted) {
      const device = this.#devices.get(mac);
      if (device === undefined || this.silent.has(mac)) continue;
      const answer = apdu[0] === 0x10 ? iAm(device.instance, 480) : device.reply(parseRequest(Buffer.from(apdu), from));
      const frame = Buffer.from([
        0x81,
        10,
        0,
        answer.length + 10,
        1,
        8,
        NETWORK >> 8,
        NETWORK & 255,
        1,
        mac,
        ...answer,
      ]);
      frame.writeUInt16BE(frame.length, 2);
      this.socket.send(frame, from.port, from.host);
    }
  }
}

let time: FakeTime;
let router: Router;
let port: BacnetPort;

beforeEach(async () => {
  time = new FakeTime();
  router = new Router();
  await router.listen();
  port = new BacnetPort({ local: { host: '127.0.0.1', port: 0 }, clock: time, timers: time, random: seeded(3) });
});
afterEach(() => router.socket.close());

function source(device: number, points = 30) {
  const where = { device, address: router.address, network: NETWORK, interface: '127.0.0.1', port: 0 };
  const settings = settingsSchema.parse({ ...where, poll_s: 1, fast_s: 1, timeout_ms: 300, max_objects: 100 });
  const mapped = Array.from({ length: points }, (_, i) => ({
    name: `point.${i + 1}`,
    fast: false,
    address: bacnetAddress.parse({ object: `analog-input:${i + 1}` }),
  }));
  const means = { clock: time, timers: time, random: seeded(4), log: { info: () => {}, warn: () => {} }, port };
  return must(bacnetSource({ chiller: `CH-${device}`, settings, points: mapped, ...means }));
}

test('two devices behind one router; the silence of one does not touch the other', async () => {
  router.add(5, 105, 1);
  router.add(6, 106, 2);
  const sinks = [new Keeper(), new Keeper()] as const;
  const sources = [source(105), source(106)] as const;
  for (const [i, one] of sources.entries()) await one.start(sinks[i]!);
  await drive(time, () => sinks.every((sink) => sink.of('point.30').length >= 2));
  for (const [i, sink] of sinks.entries())
    for (const { point, raw } of sink.samples)
      expect([point, raw]).toEqual([point, Number(point.split('.')[1]) + (i + 1) / 1024]);
  expect(new Set(router.hops)).toEqual(new Set([255]));
  router.silent.add(5);
  await drive(time, () => sources[0].status().state === 'lost');
  const from = sinks[1].samples.length;
  await drive(time, () => sinks[1].samples.length > from + 90);
  expect(sinks[1].samples.every(({ raw }) => raw !== null)).toBe(true);
  router.silent.delete(5);
  await drive(time, () => sources[0].status().state === 'connected');
  await Promise.all(sources.map((one) => one.stop()));
  expect(time.waiting).toBe(0);
});

test('a device that is not in that network is not found', async () => {
  router.add(5, 105, 1);
  const one = source(107);
  await one.start(new Keeper());
  await drive(time, () => one.status().state === 'lost');
  expect(one.status().reason).toBe('device 107 does not answer Who-Is within 300 ms');
  await one.stop();
});
