/**
 * A session with the plant's BACnet device, read by tshark (Debian; a dissector of its own): no frame is malformed, and
 * it reads the values that the objects have.
 */
import { execFile } from 'node:child_process';
import { createSocket, type Socket } from 'node:dgram';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { ObjectTable } from '../../../agent/plant/bacnet/objects.ts';
import { BacnetServer } from '../../../agent/plant/bacnet/server.ts';
import { InterstageMachine } from '../../../agent/plant/interstage-machine.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import { CH2_DEVICE, CH2_POINTS } from '../../../agent/plant/kestrel-quay/ch2-points.ts';
import { Plant } from '../../../agent/plant/plant.ts';
import { OBJECT_KINDS } from '../../../agent/plant/point-map.ts';
import { foreignClient } from '../../contract/plant/bacnet-client.ts';

const run = promisify(execFile);
const folder = mkdtempSync(join(tmpdir(), 'bacnet-'));
const machine = new InterstageMachine(CH2, 3);
const plant = new Plant({ machine, seed: 3, start: Date.UTC(2026, 6, 1, 14), faults: [], warmUp: 1800 });
const table = new ObjectTable(machine.points, [], CH2_DEVICE);
table.update(plant.sensors);
const limits = { subscriptions: 5, replies: 5 };
const server = new BacnetServer(table, { host: '127.0.0.41', port: 0, limits, now: () => performance.now() });

/** Datagrams that went through the relay, either way. */
const frames: { readonly from: number; readonly to: number; readonly data: Buffer }[] = [];
let relay: Socket;
const BACNET = 47_808;
const CLIENT = 50_000;

beforeAll(async () => {
  await server.start();
  relay = createSocket('udp4');
  await new Promise<void>((resolve) => relay.bind(0, '127.0.0.42', resolve));
  let client = { address: '', port: 0 };
  relay.on('message', (data, from) => {
    const answer = from.address === server.host;
    if (!answer) client = from;
    frames.push(answer ? { from: BACNET, to: CLIENT, data } : { from: CLIENT, to: BACNET, data });
    if (answer) relay.send(data, client.port, client.address);
    else relay.send(data, server.port, server.host);
  });
});
afterAll(async () => {
  await new Promise<void>((resolve) => relay.close(() => resolve()));
  await server.stop();
  rmSync(folder, { recursive: true });
});

/** A capture file of raw IPv4 packets (link type 101) with UDP headers without checksums. */
function capture(): string {
  const parts: Buffer[] = [];
  const head = Buffer.alloc(24);
  head.writeUInt32LE(0xa1b2c3d4, 0);
  head.writeUInt16LE(2, 4);
  head.writeUInt16LE(4, 6);
  head.writeUInt32LE(65_535, 16);
  head.writeUInt32LE(101, 20);
  parts.push(head);
  frames.forEach(({ from, to, data }, i) => {
    const packet = Buffer.alloc(28 + data.length);
    packet[0] = 0x45;
    packet.writeUInt16BE(packet.length, 2);
    packet[8] = 64;
    packet[9] = 17;
    packet.set([127, 0, 0, from === BACNET ? 41 : 42], 12);
    packet.set([127, 0, 0, to === BACNET ? 41 : 42], 16);
    packet.writeUInt16BE(from, 20);
    packet.writeUInt16BE(to, 22);
    packet.writeUInt16BE(8 + data.length, 24);
    packet.set(data, 28);
    const record = Buffer.alloc(16);
    record.writeUInt32LE(i, 0);
    record.writeUInt32LE(packet.length, 8);
    record.writeUInt32LE(packet.length, 12);
    parts.push(record, packet);
  });
  const file = join(folder, 'session.pcap');
  writeFileSync(file, Buffer.concat(parts));
  return file;
}

async function session(): Promise<void> {
  const client = await foreignClient('127.0.0.43');
  const to = { address: `127.0.0.42:${relay.address().port}` };
  const present = 85;
  client.on('covNotify', (message) => {
    const { header, invokeId } = message as { header: { sender: unknown }; invokeId: number };
    client.simpleAckResponse(header.sender, 1, invokeId);
  });
  const heard = new Promise<void>((resolve) => client.on('iAm', () => resolve()));
  client.whoIs(to);
  await heard;
  for (const { object } of CH2_POINTS)
    await client.readProperty(to, { type: OBJECT_KINDS[object.kind], instance: object.instance }, present);
  const all = CH2_POINTS.map(({ object }) => ({
    objectId: { type: OBJECT_KINDS[object.kind], instance: object.instance },
    properties: [{ id: 8 }],
  }));
  await client.readPropertyMultiple(to, all);
  const device = { type: 8, instance: CH2_DEVICE.instance };
  await client.readPropertyMultiple(to, [{ objectId: device, properties: [{ id: 8 }] }]);
  await client.readProperty(to, device, 76, { maxApdu: 0 });
  await expect(client.readProperty(to, device, 9999)).rejects.toThrow(/Error/);
  for (const confirmed of [false, true]) {
    const reported = new Promise<void>((resolve) =>
      client.on(confirmed ? 'covNotify' : 'covNotifyUnconfirmed', () => resolve()),
    );
    await client.subscribeCov(to, { type: 0, instance: 31 }, 3, false, confirmed, 60);
    await reported;
  }
  client.close();
}

test('no frame of a session is malformed, and tshark reads every value that was read', async () => {
  await session();
  const file = capture();
  const options = { maxBuffer: 64 * 1024 * 1024 };
  const { stdout } = await run('tshark', ['-r', file, '-V', '-d', `udp.port==${BACNET},bvlc`], options);
  const { stdout: bad } = await run(
    'tshark',
    ['-r', file, '-Y', '_ws.malformed || _ws.expert.severity >= 0x600000'],
    options,
  );
  expect(bad).toBe('');
  expect(stdout.match(/Building Automation and Control Network APDU/g)!.length).toBeGreaterThanOrEqual(
    frames.length - 1,
  );
  for (const word of ['Complex-ACK', 'I-Am', 'SubscribeCOV', 'UnconfirmedCOVNotification', 'Segment-ACK'])
    expect(stdout.toLowerCase(), word).toContain(word.toLowerCase());
  // The simple reads come first, one reply each, in the order of the points.
  const values = stdout
    .split(/^Frame \d+:/m)
    .filter((frame) => /APDU Type: Complex-ACK/.test(frame))
    .map((frame) => Number(/Present Value \(real\): (\S+)/.exec(frame)?.[1]));
  CH2_POINTS.forEach(({ name, object }, i) => {
    if (!object.kind.startsWith('analog')) return;
    const { published } = plant.sensors.get(name)!;
    expect(Math.abs(values[i]! - published), name).toBeLessThanOrEqual(1e-4 * Math.abs(published) + 1e-5);
  });
});
