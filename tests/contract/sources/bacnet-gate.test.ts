/**
 * Nothing but questions leaves the socket: every service choice there is, and every writing call of a foreign stack
 * that knows how to, is offered to the port's own socket, and a raw one notes what arrives.
 */
import { createSocket, type Socket } from 'node:dgram';
import { EventEmitter } from 'node:events';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { writeDatagram } from '../../../agent/sources/bacnet/network.ts';
import { type Datagrams, openUdp } from '../../../agent/sources/bacnet/udp.ts';
import { until } from '../../unit/sources/fake-time.ts';
import { stackOf } from './bacnet-device.ts';

let far: Socket;
let arrived: Buffer[];
let ours: Datagrams;
let to: { host: string; port: number };

beforeEach(async () => {
  arrived = [];
  far = createSocket('udp4');
  far.on('message', (bytes) => arrived.push(bytes));
  await new Promise<void>((resolve) => far.bind(0, '127.0.0.2', resolve));
  to = { host: '127.0.0.2', port: far.address().port };
  ours = await openUdp({ host: '127.0.0.1', port: 0, received: () => {}, broken: () => {} });
});
afterEach(async () => {
  await ours.close();
  far.close();
});

const NOWHERE = { network: null, mac: new Uint8Array(0) };
const ROUTED = { network: 7, mac: Uint8Array.of(9) };

async function offer(apdu: number[], via: 'unicast' | 'broadcast' | 'distribute' = 'unicast', destination = NOWHERE) {
  const bytes = writeDatagram({ via, to: destination, expectsReply: true, apdu: Uint8Array.from(apdu) });
  return (await ours.send(bytes, to)) === null;
}

/** The numbers of 0 to 255 that leave, and proof that nothing else arrived. */
async function leaving(
  make: (choice: number) => number[],
  via?: 'unicast' | 'broadcast' | 'distribute',
  destination = NOWHERE,
) {
  const left: number[] = [];
  for (let choice = 0; choice < 256; choice += 1) if (await offer(make(choice), via, destination)) left.push(choice);
  await until(() => arrived.length >= left.length);
  await new Promise((resolve) => setTimeout(resolve, 20));
  expect(arrived.length).toBe(left.length);
  return left;
}

describe('of all choices there are', () => {
  const content = [0x0c, 0, 0, 0, 5, 0x19, 85];

  test('confirmed services: SubscribeCOV, ReadProperty, ReadPropertyMultiple', async () => {
    expect(await leaving((service) => [0x02, 0x75, 1, service, ...content])).toEqual([5, 12, 14]);
    arrived = [];
    expect(await leaving((service) => [0x02, 0x75, 1, service, ...content], 'unicast', ROUTED as never)).toEqual([
      5, 12, 14,
    ]);
  });
  test('confirmed services, broadcast or in segments: none', async () => {
    expect(await leaving((service) => [0x02, 0x75, 1, service, ...content], 'broadcast')).toEqual([]);
    expect(await leaving((service) => [0x02, 0x75, 1, service, ...content], 'distribute')).toEqual([]);
    expect(await leaving((service) => [0x0a, 0x75, 1, 0, 1, service, ...content])).toEqual([]);
    expect(await leaving((service) => [0x00, 0x75, 1, service, ...content])).toEqual([]);
  });
  test.each(['unicast', 'broadcast', 'distribute'] as const)('unconfirmed services, %s: Who-Is', async (via) => {
    expect(await leaving((service) => [0x10, service, ...content], via)).toEqual([8]);
  });
  test('acknowledgements: of confirmed reports of changes', async () => {
    expect(await leaving((service) => [0x20, 1, service])).toEqual([1]);
  });
  test('kinds of PDU, whatever follows', async () => {
    // 02 with these octets is ReadProperty; 10 08 Who-Is; 20 .. 01, 40, 42 and 70 have other lengths
    expect(await leaving((first) => [first, 8, 1, 12, ...content])).toEqual([0x02, 0x10]);
    arrived = [];
    expect(await leaving((first) => [first, 1, 1, 12])).toEqual([0x40, 0x42]);
    arrived = [];
    expect(await leaving((first) => [first, 1, 1])).toEqual([0x20, 0x70]);
  });
  test('BVLC functions: registration, and the carriers of Who-Is', async () => {
    const left: number[] = [];
    for (let code = 0; code < 256; code += 1)
      for (const tail of [
        [1, 44],
        [1, 0, 0x10, 8],
        [1, 0, 0x02, 0x75, 1, 15, ...content],
      ]) {
        const bytes = Uint8Array.from([0x81, code, 0, 4 + tail.length, ...tail]);
        if ((await ours.send(bytes, to)) === null) left.push(code);
      }
    expect(left).toEqual([5, 9, 10, 11]);
  });
  test('control octets of the network layer: a destination, a reply expected; nothing with a network message or a source', async () => {
    const left: number[] = [];
    for (let control = 0; control < 256; control += 1) {
      const routed = control & 0x20 ? [0, 7, 1, 9, 255] : [];
      const bytes = [1, control, ...routed, 0x02, 0x75, 1, 12, ...content];
      if ((await ours.send(Uint8Array.from([0x81, 10, 0, 4 + bytes.length, ...bytes]), to)) === null)
        left.push(control);
    }
    expect(left).toEqual([0x00, 0x04, 0x20, 0x24]);
  });
});

describe('every call of a foreign stack that is no question: not one byte leaves', () => {
  class OverOurs extends EventEmitter {
    readonly refused: string[] = [];
    offered = 0;
    open(): void {}
    close(): void {}
    getBroadcastAddress(): string {
      return '127.255.255.255';
    }
    getMaxPayload(): number {
      return 1482;
    }
    send(buffer: Buffer, length: number): void {
      this.offered += 1;
      void ours.send(Uint8Array.from(buffer.subarray(0, length)), to).then((why) => {
        if (why !== null) this.refused.push(why);
      });
    }
  }
  const real = [{ type: 4, value: 1 }];
  const object = { type: 2, instance: 1 };
  const device = '127.0.0.2';
  const done = () => {};
  type Call = (client: Record<string, (...values: unknown[]) => unknown>) => unknown;
  const calls: Record<string, Call> = {
    writeProperty: (client) => client['writeProperty']!(device, object, 85, real, {}, done),
    writePropertyMultiple: (client) =>
      client['writePropertyMultiple']!(
        device,
        [{ objectId: object, values: [{ property: { id: 85, index: 0xffffffff }, value: real, priority: 8 }] }],
        {},
        done,
      ),
    deviceCommunicationControl: (client) => client['deviceCommunicationControl']!(device, 0, 1, {}, done),
    reinitializeDevice: (client) => client['reinitializeDevice']!(device, 1, {}, done),
    writeFile: (client) => client['writeFile']!(device, { type: 10, instance: 1 }, 0, [[1, 2]], {}, done),
    readFile: (client) => client['readFile']!(device, { type: 10, instance: 1 }, 0, 10, {}, done),
    createObject: (client) => client['createObject']!(device, object, [], {}, done),
    deleteObject: (client) => client['deleteObject']!(device, object, {}, done),
    addListElement: (client) =>
      client['addListElement']!(device, object, { id: 85, index: 0xffffffff }, real, {}, done),
    removeListElement: (client) =>
      client['removeListElement']!(device, object, { id: 85, index: 0xffffffff }, real, {}, done),
    timeSync: (client) => client['timeSync']!(device, new Date(0)),
    timeSyncUTC: (client) => client['timeSyncUTC']!(device, new Date(0)),
    confirmedPrivateTransfer: (client) => client['confirmedPrivateTransfer']!(device, 1, 1, [1], {}, done),
    iAmResponse: (client) => client['iAmResponse']!({ address: device }, 1, 3, 1),
    errorResponse: (client) => client['errorResponse']!({ address: device }, 12, 1, 1, 31),
    readPropertyResponse: (client) => client['readPropertyResponse']!({ address: device }, 1, object, { id: 85 }, real),
    resultResponse: (client) => client['resultResponse']!({ address: device }, 0),
  };

  test.each(Object.keys(calls))('%s', async (name) => {
    const transport = new OverOurs();
    const client = new (stackOf('node-bacnet'))({ transport, apduTimeout: 10 }) as unknown as Parameters<Call>[0];
    (client as unknown as EventEmitter).on('error', done);
    await calls[name]!(client);
    await until(() => transport.refused.length === 1);
    expect([transport.offered, transport.refused[0]]).toEqual([1, expect.stringMatching(/^kept back: /)]);
    await new Promise((resolve) => setTimeout(resolve, 20));
    expect(arrived).toEqual([]);
  });

  test('and its questions do leave', async () => {
    const transport = new OverOurs();
    const client = new (stackOf('node-bacnet'))({ transport, apduTimeout: 10 }) as unknown as Parameters<Call>[0];
    client['whoIs']!({ address: device });
    await until(() => arrived.length === 1);
    expect(transport.refused).toEqual([]);
  });
});
