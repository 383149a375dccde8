/**
 * A session of the source with devices of two foreign stacks and one that sends segments, captured on the loopback and
 * dissected by tshark: no malformed frame, and every kind of question was asked.
 */
import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { bacnetAddress, bacnetSource as settingsSchema } from '../../../agent/site/buses/bacnet.ts';
import { findDevices, listObjects } from '../../../agent/sources/bacnet/discover.ts';
import { BacnetPort } from '../../../agent/sources/bacnet/port.ts';
import { type BacnetSourceOptions, bacnetSource } from '../../../agent/sources/bacnet/source.ts';
import { BacnetDevice, freeUdpPort, TAG } from '../../contract/sources/bacnet-device.ts';
import { drive, Keeper } from '../../contract/sources/source-contract.ts';
import { framed, segment } from '../../fault/sources/bacnet/frames.ts';
import { type Behaviour, LyingDevice, segmented } from '../../fault/sources/bacnet/lying-device.ts';
import { FakeTime, seeded } from '../../unit/sources/fake-time.ts';

const run = promisify(execFile);
const PROFILE = { env: { ...process.env, HOME: tmpdir() }, maxBuffer: 64 * 1024 * 1024 };

let folder: string;
let file: string;
let devicePort: number;
let capture: ChildProcess;
let said = '';

beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'capture-'));
  file = join(folder, 'session.pcapng');
  devicePort = await freeUdpPort('127.0.0.2');
  capture = spawn('dumpcap', ['-i', 'lo', '-f', `udp port ${devicePort}`, '-w', file], {
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  said = '';
  capture.stderr?.setEncoding('utf8').on('data', (text: string) => {
    said += text;
  });
  await expect.poll(() => said, { timeout: 20_000 }).toMatch(/^File: /m);
});
afterEach(async () => {
  if (capture.exitCode === null) capture.kill('SIGKILL');
  await rm(folder, { recursive: true, force: true });
});

/** Ends the capture when everything sent has been written. */
async function captured(frames: number): Promise<void> {
  await expect
    .poll(async () => (await fields('', ['frame.number'])).length, { timeout: 30_000, interval: 250 })
    .toBeGreaterThanOrEqual(frames);
  capture.kill('SIGINT');
  await once(capture, 'exit');
}

async function fields(filter: string, names: readonly string[]): Promise<string[][]> {
  const shown = ['-T', 'fields', ...names.flatMap((name) => ['-e', name])];
  const decode = ['-d', `udp.port==${devicePort},bvlc`];
  // while a capture is being written its last block may be cut: what is whole is printed all the same
  const { stdout } = await run(
    'tshark',
    ['-n', '-r', file, ...decode, '-Y', filter === '' ? 'udp' : filter, ...shown],
    PROFILE,
  ).catch((error: { stdout?: string }) => ({ stdout: error.stdout ?? '' }));
  return stdout
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => line.split('\t'));
}

const MALFORMED = '_ws.malformed || _ws.expert.severity >= 8388608';

const log = { info: () => {}, warn: () => {} };
const POINTS = Array.from({ length: 32 }, (_, n) => n);

async function foreignDevices(): Promise<[BacnetDevice, BacnetDevice]> {
  const listening = (['node-bacnet', '@bacnet-js/client'] as const).map(async (stack, i) => {
    const device = new BacnetDevice({ stack, host: `127.0.0.${2 + i}`, instance: 100 + i });
    device.port = devicePort;
    for (let n = 1; n <= 30; n += 1) device.putPoint(`analog-input:${n}`, { type: TAG.real, value: n });
    await device.listen();
    return device;
  });
  const [one, other] = await Promise.all(listening);
  await one!.hearBroadcasts();
  return [one!, other!];
}

/** A device that sends what it can in segments, each window of them backwards. */
async function segmentingDevice(): Promise<LyingDevice> {
  const device = await LyingDevice.listen({ host: '127.0.0.4', port: devicePort, instance: 102 });
  device.segmentation = 0;
  device.maxApdu = 480;
  const split = segmented({ size: 200, window: 2, disturb: (frames) => frames.toReversed() });
  device.behaviour = (asked, one) => (asked.service === 14 ? split(asked, one) : one.answer(asked));
  return device;
}

/** Segments without end. */
const endless: Behaviour = (asked, device) => {
  const content = Buffer.alloc(1400, 0x21);
  let sequence = 0;
  const more = (): void => {
    device.send(segment(asked, { sequence, more: true, window: 1, content }), asked.from);
    sequence += 1;
  };
  device.onSegmentAck = more;
  more();
};

function sourceOf(
  where: object,
  cov: boolean,
  means: Pick<BacnetSourceOptions, 'clock' | 'timers' | 'random' | 'port'>,
) {
  const here = { interface: '127.0.0.1', port: 0, poll_s: 1, fast_s: 1, timeout_ms: 500 };
  const settings = settingsSchema.parse({ ...here, ...where });
  const points = POINTS.map((n) => ({
    name: `point.${n}`,
    fast: n % 2 === 0,
    address: bacnetAddress.parse({ object: `analog-input:${n}`, cov: cov && n === 1 }),
  }));
  return must(bacnetSource({ chiller: 'CH-2', settings, points, ...means, log }));
}

/** Everything the source and a scan ask; returns how many datagrams that took. */
async function session(): Promise<number> {
  const time = new FakeTime();
  const means = { clock: time, timers: time, random: seeded(4) };
  const port = new BacnetPort({ local: { host: '127.0.0.1', port: 0 }, ...means });
  const devices = await foreignDevices();
  const third = await segmentingDevice();
  const broadcast = `127.255.255.255:${devicePort}`;
  const sinks = [new Keeper(), new Keeper(), new Keeper()];
  const sources = [
    sourceOf({ device: 100, broadcast }, true, { ...means, port }),
    sourceOf({ device: 101, foreign: { bbmd: devices[1].address, ttl_s: 60 } }, true, { ...means, port }),
    sourceOf({ device: 102, address: third.address }, false, { ...means, port }),
  ];
  for (const [i, source] of sources.entries()) await source.start(sinks[i]!);
  await drive(time, () => sinks.every((sink) => sink.of('point.1').length >= 3));
  await drive(time, () => devices.every((one) => one.subscriptions.length > 0));
  for (const device of devices) device.report(0, 1);
  await drive(time, () => sources.slice(0, 2).every((source) => (source.status().counters['reports'] ?? 0) > 0));

  const { signal } = new AbortController();
  const search = findDevices({ port, where: { broadcast, timeout_ms: 200 }, timers: time, signal });
  let over = false;
  void search.then(() => (over = true));
  await drive(time, () => over);
  const found = await search;
  if (!found.ok) throw new Error(found.fault);
  await listObjects({ port, device: found.value[0]!, timeoutMs: 500, ...means });

  third.behaviour = endless;
  await drive(time, () => third.other.length > 0);
  const to = { host: '127.255.255.255', port: devicePort };
  await port.whoIs({ low: 1, high: 9, audience: { via: 'broadcast', to, network: 7 } });
  const routed = { host: third.host, port: third.port, network: 7, mac: Uint8Array.of(5) };
  await port.tell(routed, 12, [0x0c, 0, 0, 0, 1, 0x19, 85]);
  for (const source of sources) await source.stop();
  await Promise.all([...devices, third].map((device) => device.close()));
  return port.counters()['sent'] ?? 0;
}

test('no malformed frame, and every question and answer of a session among them', async () => {
  const sent = await session();
  await captured(sent);
  const frames = await fields('bacapp || bvlc', [
    'bvlc.function',
    'bacapp.type',
    'bacapp.confirmed_service',
    'bacapp.unconfirmed_service',
    'ip.src',
  ]);
  expect(frames.length).toBeGreaterThanOrEqual(sent);
  expect(await fields(MALFORMED, ['frame.number', '_ws.expert.message'])).toEqual([]);
  const ours = frames.filter(([, , , , from]) => from === '127.0.0.1');
  const kinds = new Set(
    ours.map(([carrier, type, confirmed, unconfirmed]) => `${carrier} ${type} ${confirmed}${unconfirmed}`),
  );
  // functions and PDU types as tshark numbers them: 0x0a unicast, 0x0b broadcast, 0x09 distributed, 0x05 registration
  expect([...kinds].sort()).toEqual(
    [
      ['0x05', '', ''],
      ['0x09', '1', '8'],
      ['0x0a', '0', '12'],
      ['0x0a', '0', '14'],
      ['0x0a', '0', '5'],
      ['0x0a', '2', '1'],
      ['0x0a', '4', ''],
      ['0x0a', '7', ''],
      ['0x0b', '1', '8'],
    ]
      .map((kind) => kind.join(' '))
      .sort(),
  );
});

test('the check itself finds a malformed frame', async () => {
  const socket = createSocket('udp4');
  const apdu = Uint8Array.from([0x30, 1, 12, 0x0c, 0, 0, 0, 1, 0x19, 85, 0x3e, 0x44, 0x42]);
  await new Promise<unknown>((resolve) => socket.send(framed(apdu), devicePort, '127.0.0.2', resolve));
  socket.close();
  await captured(1);
  expect((await fields(MALFORMED, ['frame.number'])).length).toBe(1);
});
