/**
 * A BACnet/IP device served by one of two stacks that share no code with the reader (node-bacnet, @bacnet-js/client):
 * objects that tests fill. Each has an address of its own in 127/8, because both stacks drop what comes from 127.0.0.1
 * on the standard port as their own.
 */
import { createSocket, type Socket } from 'node:dgram';
import { createRequire } from 'node:module';
import { BACNET_POINT_OBJECTS, BACNET_POINT_PROPERTIES } from '../../../agent/site/buses/bacnet.ts';

export type Stack = 'node-bacnet' | '@bacnet-js/client';

interface Request {
  readonly header: { readonly sender: { readonly address: string } };
  readonly service: number;
  readonly invokeId: number;
  // each service has a payload of its own, described by the stack alone
  // biome-ignore lint/suspicious/noExplicitAny: foreign and untyped
  readonly payload: any;
}

export interface Held {
  readonly type: number;
  readonly value: unknown;
}

interface ForeignStack {
  on(event: string, listener: (request: Request) => void): void;
  readPropertyResponse(to: unknown, invokeId: number, object: unknown, property: unknown, values: Held[]): void;
  readPropertyMultipleResponse(to: unknown, invokeId: number, values: unknown[]): void;
  iAmResponse(to: unknown, device: number, segmentation: number, vendor: number): void;
  simpleAckResponse(to: unknown, service: number, invokeId: number): void;
  errorResponse(to: unknown, service: number, invokeId: number, errorClass: number, code: number): void;
  resultResponse(to: unknown, code: number): void;
  unconfirmedCOVNotification(...values: unknown[]): void;
  confirmedCOVNotification(...values: unknown[]): unknown;
  close(): void;
  /** What both have beneath: it takes datagrams, however they came. */
  readonly _transport: { emit(event: 'message', bytes: Buffer, from: string): void };
}

const require = createRequire(import.meta.url);

export function stackOf(name: Stack): new (options: object) => ForeignStack {
  const loaded = require(name) as { default?: new (options: object) => ForeignStack };
  return loaded.default ?? (loaded as unknown as new (options: object) => ForeignStack);
}

export async function freeUdpPort(host: string): Promise<number> {
  const socket = createSocket('udp4');
  await new Promise<void>((resolve) => socket.bind(0, host, resolve));
  const { port } = socket.address();
  await new Promise<void>((resolve) => socket.close(() => resolve()));
  return port;
}

/** Application tags of clause 20.2.1.4, as both stacks number them. */
export const TAG = { unsigned: 2, signed: 3, real: 4, double: 5, text: 7, bits: 8, enumerated: 9, object: 12 } as const;
const [PRESENT_VALUE, STATUS_FLAGS, RELIABILITY, DEVICE] = [85, 111, 103, 8];

export interface FlagsOf {
  readonly inAlarm?: boolean;
  readonly fault?: boolean;
  readonly overridden?: boolean;
  readonly outOfService?: boolean;
}

/** Status flags as both stacks take them: the first bit is the lowest of the byte. */
export function flags({ inAlarm, fault, overridden, outOfService }: FlagsOf): Held {
  const byte = [inAlarm, fault, overridden, outOfService].reduce((sum, bit, i) => sum | (bit ? 1 << i : 0), 0);
  return { type: TAG.bits, value: { value: [byte], bitsUsed: 4 } };
}

export class BacnetDevice {
  readonly stack: Stack;
  readonly host: string;
  readonly instance: number;
  port = 0;
  /** Without it the device knows ReadProperty alone, and says so as these stacks do. */
  multiple = true;
  reads = 0;
  /** Requests that would have changed the device. */
  writes = 0;
  registrations: number[] = [];
  readonly subscriptions: {
    to: string;
    process: number;
    object: { type: number; instance: number };
    confirmed: boolean;
  }[] = [];
  cancellations = 0;
  readonly #held = new Map<string, Held[]>();
  #server: ForeignStack | null = null;
  #ear: Socket | null = null;

  constructor(options: { stack: Stack; host: string; instance: number }) {
    this.stack = options.stack;
    this.host = options.host;
    this.instance = options.instance;
    this.put(DEVICE, this.instance, 62, { type: TAG.unsigned, value: 1476 });
    this.put(DEVICE, this.instance, 107, { type: TAG.enumerated, value: 3 });
    this.put(DEVICE, this.instance, 77, { type: TAG.text, value: 'a device' });
  }

  get address(): string {
    return `${this.host}:${this.port}`;
  }

  put(type: number, instance: number, property: number, ...values: Held[]): void {
    this.#held.set(`${type} ${instance} ${property}`, values);
  }

  /** The value, good flags and a good reliability of a point's object. */
  putPoint(
    object: string,
    value: Held,
    options: { property?: string; flags?: FlagsOf; reliability?: number } = {},
  ): void {
    const { property = 'present-value', reliability = 0 } = options;
    const [kind = '', instance] = object.split(':');
    const type = BACNET_POINT_OBJECTS[kind as keyof typeof BACNET_POINT_OBJECTS];
    this.put(type, Number(instance), BACNET_POINT_PROPERTIES[property as 'present-value'], value);
    this.put(type, Number(instance), STATUS_FLAGS, flags(options.flags ?? {}));
    this.put(type, Number(instance), RELIABILITY, { type: TAG.enumerated, value: reliability });
  }

  async listen(): Promise<void> {
    if (this.port === 0) this.port = await freeUdpPort(this.host);
    const Stack = stackOf(this.stack);
    const server = new Stack({
      port: this.port,
      interface: this.host,
      broadcastAddress: '127.255.255.255',
      reuseAddr: false,
      apduTimeout: 500,
    });
    this.#server = server;
    await new Promise<void>((resolve, reject) => {
      server.on('listening', () => resolve());
      server.on('error', (error) => reject(error as unknown as Error));
    });
    server.on('readProperty', (request) => this.#readProperty(server, request));
    server.on('readPropertyMultiple', (request) => this.#readPropertyMultiple(server, request));
    server.on('whoIs', ({ header, payload }) => {
      const low = payload.lowLimit ?? 0;
      const high = payload.highLimit ?? 4_194_303;
      if (this.instance >= low && this.instance <= high) server.iAmResponse(header.sender, this.instance, 3, 999);
    });
    server.on('subscribeCov', (request) => this.#subscribe(server, request));
    server.on('registerForeignDevice', ({ header, payload }) => {
      this.registrations.push(payload.ttl);
      server.resultResponse(header.sender, 0);
    });
    for (const event of ['writeProperty', 'writePropertyMultiple', 'deviceCommunicationControl', 'unhandledEvent'])
      server.on(event, () => {
        this.writes += 1;
      });
  }

  /**
   * Hears broadcasts too: a socket bound to an address of 127/8 does not. One device for each port.
   */
  async hearBroadcasts(): Promise<void> {
    const ear = createSocket('udp4');
    await new Promise<void>((resolve) => ear.bind(this.port, '127.255.255.255', resolve));
    ear.on('message', (bytes, { address, port }) => this.hear(bytes, `${address}:${port}`));
    this.#ear = ear;
  }

  hear(bytes: Buffer, from: string): void {
    this.#server?._transport.emit('message', bytes, from);
  }

  async close(): Promise<void> {
    this.#ear?.close();
    this.#ear = null;
    const server = this.#server;
    this.#server = null;
    if (server === null) return;
    server.close();
    // neither stack says when its socket is free
    await new Promise((resolve) => setImmediate(resolve));
  }

  /** Reports a change to every subscriber of the object. */
  report(type: number, instance: number): void {
    const server = this.#server;
    if (server === null) throw new Error('the device is not listening');
    const values = [PRESENT_VALUE, STATUS_FLAGS].map((id) => ({
      property: { id },
      value: this.#held.get(`${type} ${instance} ${id}`) ?? [],
    }));
    for (const { to, process, object, confirmed } of this.subscriptions) {
      if (object.type !== type || object.instance !== instance) continue;
      const common = [{ address: to }, confirmed ? object : process, confirmed ? process : this.instance];
      if (!confirmed) server.unconfirmedCOVNotification(...common, object, 60, values);
      else if (this.stack === 'node-bacnet')
        server.confirmedCOVNotification(...common, this.instance, 60, values, {}, () => {});
      else
        void (server.confirmedCOVNotification(...common, this.instance, 60, values) as Promise<void>).catch(() => {});
    }
  }

  #readProperty(server: ForeignStack, { header, invokeId, service, payload }: Request): void {
    this.reads += 1;
    const { objectId, property } = payload;
    const held = this.#held.get(`${objectId.type} ${objectId.instance} ${property.id}`);
    if (held !== undefined) server.readPropertyResponse(header.sender, invokeId, objectId, property, held);
    else server.errorResponse(header.sender, service, invokeId, ...this.#errorOf(objectId));
  }

  #readPropertyMultiple(server: ForeignStack, { header, invokeId, service, payload }: Request): void {
    this.reads += 1;
    if (!this.multiple) {
      server.errorResponse(header.sender, service, invokeId, 5, 67);
      return;
    }
    const values = payload.properties.map(
      ({ objectId, properties }: { objectId: never; properties: { id: number }[] }) => ({
        objectId,
        values: properties.map((property) => ({ property, value: this.#heldOrError(objectId, property.id) })),
      }),
    );
    server.readPropertyMultipleResponse(header.sender, invokeId, values);
  }

  #heldOrError(objectId: { type: number; instance: number }, property: number): unknown[] {
    const held = this.#held.get(`${objectId.type} ${objectId.instance} ${property}`);
    if (held !== undefined) return held;
    const [errorClass, errorCode] = this.#errorOf(objectId);
    return [{ type: 0, value: { type: 'BacnetError', errorClass, errorCode } }];
  }

  #errorOf({ type, instance }: { type: number; instance: number }): [number, number] {
    const known = [...this.#held.keys()].some((key) => key.startsWith(`${type} ${instance} `));
    return known ? [2, 32] : [1, 31];
  }

  #subscribe(server: ForeignStack, { header, invokeId, service, payload }: Request): void {
    const { subscriberProcessId: process, monitoredObjectId: object, cancellationRequest } = payload;
    const to = header.sender.address;
    const at = this.subscriptions.findIndex(
      (one) => one.to === to && one.process === process && one.object.instance === object.instance,
    );
    if (at >= 0) this.subscriptions.splice(at, 1);
    if (cancellationRequest) this.cancellations += 1;
    else this.subscriptions.push({ to, process, object, confirmed: payload.issueConfirmedNotifications });
    server.simpleAckResponse(header.sender, service, invokeId);
  }
}
