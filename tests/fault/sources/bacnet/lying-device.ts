/** A device in this process that answers rightly, or in whatever wrong way a test wants. */
import { createSocket, type Socket } from 'node:dgram';
import {
  type Asked,
  type Content,
  errorReply,
  framed,
  GOOD_FLAGS,
  iAm,
  multipleContent,
  multipleReply,
  NO_FAULT,
  type ObjectOf,
  objectId,
  parseRequest,
  READ,
  readReply,
  real,
  segment,
  simpleAck,
} from './frames.ts';

export type Behaviour = (asked: Asked, device: LyingDevice) => void;

/** What a segmented reply's far end answered. */
export interface SegmentAck {
  readonly negative: boolean;
  readonly invokeId: number;
  readonly sequence: number;
  readonly window: number;
}

export class LyingDevice {
  readonly instance: number;
  readonly host: string;
  port = 0;
  /** Part of every value: a reading of before a change can be told from one after it. */
  version = 0;
  maxApdu = 1476;
  segmentation = 3;
  objectList: readonly ObjectOf[] = [];
  behaviour: Behaviour = honest;
  /** Answers to Who-Is; none where null. */
  answersWhoIs = true;
  readonly asked: Asked[] = [];
  readonly segmentAcks: SegmentAck[] = [];
  /** Other APDUs that arrived: aborts, acknowledgements. */
  readonly other: Buffer[] = [];
  onSegmentAck: (ack: SegmentAck) => void = () => {};
  #socket: Socket | null = null;
  #ear: Socket | null = null;

  constructor(options: { instance: number; host: string }) {
    this.instance = options.instance;
    this.host = options.host;
  }

  static async listen(options: { instance?: number; host?: string; port?: number } = {}): Promise<LyingDevice> {
    const device = new LyingDevice({ instance: options.instance ?? 42, host: options.host ?? '127.0.0.5' });
    device.port = options.port ?? 0;
    await device.listen();
    return device;
  }

  get address(): string {
    return `${this.host}:${this.port}`;
  }

  async listen(): Promise<void> {
    const socket = createSocket('udp4');
    await new Promise<void>((resolve) => socket.bind(this.port, this.host, resolve));
    this.port = socket.address().port;
    socket.on('message', (bytes, { address: host, port }) => this.#received(bytes, { host, port }));
    this.#socket = socket;
  }

  async hearBroadcasts(): Promise<void> {
    const ear = createSocket('udp4');
    await new Promise<void>((resolve) => ear.bind(this.port, '127.255.255.255', resolve));
    ear.on('message', (bytes, { address: host, port }) => this.#received(bytes, { host, port }));
    this.#ear = ear;
  }

  async close(): Promise<void> {
    const open = [this.#socket, this.#ear].filter((socket) => socket !== null);
    this.#socket = null;
    this.#ear = null;
    await Promise.all(open.map((socket) => new Promise<void>((resolve) => socket.close(() => resolve()))));
  }

  send(apdu: Uint8Array, to: Asked['from']): void {
    this.sendRaw(framed(apdu), to);
  }

  sendRaw(bytes: Uint8Array, to: Asked['from']): void {
    this.#socket?.send(bytes, to.port, to.host);
  }

  value(object: ObjectOf): number {
    return heldAt(object, this.version);
  }

  /** What the honest device holds. */
  content(object: ObjectOf, property: number): Content {
    if (object.type === 8 && object.instance === this.instance) {
      if (property === 62) return [0x22, this.maxApdu >> 8, this.maxApdu & 255];
      if (property === 107) return [0x91, this.segmentation];
      if (property === 76) return this.objectList.flatMap((one) => [0xc4, ...objectId(one)]);
      return { error: [2, 32] };
    }
    if (object.type !== 0) return { error: [1, 31] };
    if (property === 85) return real(this.value(object));
    if (property === 111) return GOOD_FLAGS;
    return property === 103 ? NO_FAULT : { error: [2, 32] };
  }

  /** The whole honest reply. */
  reply(asked: Asked): Buffer {
    if (asked.service === READ) {
      const [{ object, properties } = { object: { type: 0, instance: 0 }, properties: [] }] = asked.objects;
      const content = this.content(object, properties[0] ?? 0);
      return Array.isArray(content) ? readReply(asked, content) : errorReply(asked, ...content.error);
    }
    if (asked.service === 14) return multipleReply(asked, (object, property) => this.content(object, property));
    return simpleAck(asked);
  }

  answer(asked: Asked): void {
    this.send(this.reply(asked), asked.from);
  }

  #received(bytes: Buffer, from: Asked['from']): void {
    const apdu = bytes.subarray(6);
    const [first, second] = apdu;
    if (first === 0x10 && second === 8) {
      if (this.answersWhoIs) this.send(iAm(this.instance, this.maxApdu, this.segmentation), from);
    } else if (first === 0x02) {
      const asked = parseRequest(Buffer.from(apdu), from);
      this.asked.push(asked);
      this.behaviour(asked, this);
    } else if (((first ?? 0) & 0xf0) === 0x40) {
      const [, invokeId = 0, sequence = 0, window = 0] = apdu;
      const ack = { negative: ((first ?? 0) & 2) !== 0, invokeId, sequence, window };
      this.segmentAcks.push(ack);
      this.onSegmentAck(ack);
    } else this.other.push(Buffer.from(apdu));
  }
}

/** What the honest device holds in an object at a version; exact in a real. */
export function heldAt({ instance }: ObjectOf, version: number): number {
  return instance + version / 1024;
}

export const honest: Behaviour = (asked, device) => device.answer(asked);
export const silent: Behaviour = () => {};

/** The content of a reply behind its head, for sending it in segments. */
export function contentOfReply(asked: Asked, device: LyingDevice): Buffer {
  if (asked.service === 14)
    return Buffer.from(multipleContent(asked.objects, (object, property) => device.content(object, property)));
  return device.reply(asked).subarray(3);
}

/**
 * Sends replies in segments of `size` bytes, `window` at a time, as clause 5.4 has it for the answering side. `disturb`
 * may drop, double or reorder the datagrams of one window.
 */
export function segmented(options: {
  size: number;
  window: number;
  disturb?: (frames: Buffer[], first: number) => Buffer[];
}): Behaviour {
  const { size, window, disturb = (frames) => frames } = options;
  return (asked, device) => {
    const content = contentOfReply(asked, device);
    const count = Math.ceil(content.length / size);
    const frame = (n: number): Buffer => {
      const part = content.subarray(n * size, (n + 1) * size);
      return segment(asked, { sequence: n, more: n < count - 1, window, content: part });
    };
    let next = 0;
    let agreed = 1;
    const burst = (): void => {
      const frames = Array.from({ length: Math.min(agreed, count - next) }, (_, i) => frame(next + i));
      for (const one of disturb(frames, next)) device.send(one, asked.from);
    };
    device.onSegmentAck = ({ invokeId, sequence, window: actual }) => {
      if (invokeId !== asked.invokeId) return;
      // the absolute number nearest below what may have been sent
      const highest = Math.min(count, next + agreed) - 1;
      const last = highest - ((highest - sequence + 256) % 256);
      agreed = actual;
      next = last + 1;
      if (next < count) burst();
    };
    burst();
  };
}
