/**
 * Two BACnet stacks that share no code with the plant's device (node-bacnet, @bacnet-js/client) and a bare socket, as
 * readers of it.
 */
import { createSocket, type Socket } from 'node:dgram';
import { createRequire } from 'node:module';

const require = createRequire(import.meta.url);

export interface ObjectId {
  readonly type: number;
  readonly instance: number;
}

interface Value {
  readonly type: number;
  readonly value: unknown;
}

export interface ForeignClient {
  on(event: string, listener: (...values: unknown[]) => void): void;
  off(event: string, listener: (...values: unknown[]) => void): void;
  whoIs(to: { address: string }, limits?: { lowLimit: number; highLimit: number }): void;
  readProperty(
    to: { address: string },
    object: ObjectId,
    property: number,
    options?: { arrayIndex?: number; maxApdu?: number; maxSegments?: number },
  ): Promise<{ values: Value[] }>;
  readPropertyMultiple(
    to: { address: string },
    asked: { objectId: ObjectId; properties: { id: number }[] }[],
    options?: { maxApdu?: number; maxSegments?: number },
  ): Promise<{ values: { objectId: ObjectId; values: { id: number; value: Value[] }[] }[] }>;
  writeProperty(...values: unknown[]): Promise<unknown>;
  reinitializeDevice(...values: unknown[]): Promise<unknown>;
  subscribeCov(
    to: { address: string },
    object: ObjectId,
    process: number,
    cancel: boolean,
    confirmed: boolean,
    lifetime: number,
  ): Promise<unknown>;
  simpleAckResponse(to: unknown, service: number, invokeId: number): void;
  close(): void;
}

export async function freeUdpPort(host: string): Promise<number> {
  const socket = await bareSocket(host);
  const { port } = socket.address();
  await new Promise<void>((resolve) => socket.close(() => resolve()));
  return port;
}

export async function bareSocket(host: string): Promise<Socket> {
  const socket = createSocket('udp4');
  await new Promise<void>((resolve) => socket.bind(0, host, resolve));
  return socket;
}

/** Needs an address of its own. */
export async function foreignClient(host: string, apduTimeout = 3000): Promise<ForeignClient> {
  const loaded = require('@bacnet-js/client') as { default: new (options: object) => ForeignClient };
  const port = await freeUdpPort(host);
  const client = new loaded.default({ interface: host, port, broadcastAddress: '127.255.255.255', apduTimeout });
  await new Promise<void>((resolve) => client.on('listening', () => resolve()));
  client.on('error', () => {});
  return client;
}

/** node-bacnet answers by callbacks. */
export async function olderClient(host: string) {
  const Stack = require('node-bacnet') as new (
    options: object,
  ) => {
    readProperty(
      to: { address: string },
      object: ObjectId,
      property: number,
      done: (error: Error | null, found?: { values: Value[] }) => void,
    ): void;
    on(event: string, listener: () => void): void;
    close(): void;
  };
  const client = new Stack({
    interface: host,
    port: await freeUdpPort(host),
    broadcastAddress: '127.255.255.255',
    apduTimeout: 3000,
  });
  await new Promise<void>((resolve) => client.on('listening', () => resolve()));
  return {
    read: (address: string, object: ObjectId, property: number): Promise<Value[]> =>
      new Promise((resolve, reject) =>
        client.readProperty({ address }, object, property, (error, found) =>
          error === null || error === undefined ? resolve(found!.values) : reject(error),
        ),
      ),
    close: () => client.close(),
  };
}

/** Number of a property, service, unit or kind by the name that a stack has for it. */
export function foreignTable(stack: '@bacnet-js/client' | 'node-bacnet', name: string): Record<string, number> {
  const loaded = require(stack) as Record<string, unknown>;
  if (stack === 'node-bacnet') return (loaded['enum'] as Record<string, Record<string, number>>)[name]!;
  return loaded[name] as Record<string, number>;
}

/** Sends a datagram and waits for the next one that comes back. */
export async function exchange(socket: Socket, data: Uint8Array, to: { host: string; port: number }): Promise<Buffer> {
  const reply = new Promise<Buffer>((resolve) => socket.once('message', resolve));
  socket.send(data, to.port, to.host);
  return reply;
}
