/** Frames as a device writes them, made here byte by byte from the standard's layout: no code of the reader's. */

export interface ObjectOf {
  readonly type: number;
  readonly instance: number;
}

/** A request as it arrived, taken apart. */
export interface Asked {
  readonly apdu: Buffer;
  readonly invokeId: number;
  readonly service: number;
  /** Objects and properties in the order of the question; of SubscribeCOV the object alone. */
  readonly objects: readonly { readonly object: ObjectOf; readonly properties: readonly number[] }[];
  readonly from: { readonly host: string; readonly port: number };
}

export const READ = 12;
export const READ_MULTIPLE = 14;
export const SUBSCRIBE = 5;

/** BVLC (unicast) and NPDU (local) round an APDU. */
export function framed(apdu: Uint8Array, code = 0x0a): Buffer {
  const length = apdu.length + 6;
  return Buffer.from([0x81, code, length >> 8, length & 255, 1, 0, ...apdu]);
}

export function objectId({ type, instance }: ObjectOf): number[] {
  const word = type * 2 ** 22 + instance;
  return [24, 16, 8, 0].map((shift) => Math.floor(word / 2 ** shift) % 256);
}

export function real(value: number): number[] {
  const bytes = Buffer.alloc(4);
  bytes.writeFloatBE(value);
  return [0x44, ...bytes];
}

export const GOOD_FLAGS = [0x82, 4, 0];
export const NO_FAULT = [0x91, 0];

/** Content of a property: application-tagged bytes, or an error class and code. */
export type Content = number[] | { readonly error: readonly [number, number] };

export function readReply(asked: Asked, content: number[]): Buffer {
  const [{ object, properties } = { object: { type: 0, instance: 0 }, properties: [] }] = asked.objects;
  const at = [0x0c, ...objectId(object), 0x19, properties[0] ?? 0];
  return Buffer.from([0x30, asked.invokeId, READ, ...at, 0x3e, ...content, 0x3f]);
}

export function multipleReply(asked: Asked, contentOf: (object: ObjectOf, property: number) => Content): Buffer {
  return Buffer.from([0x30, asked.invokeId, READ_MULTIPLE, ...multipleContent(asked.objects, contentOf)]);
}

export function multipleContent(
  objects: Asked['objects'],
  contentOf: (object: ObjectOf, property: number) => Content,
): number[] {
  return objects.flatMap(({ object, properties }) => [
    ...[0x0c, ...objectId(object), 0x1e],
    ...properties.flatMap((property) => {
      const content = contentOf(object, property);
      if (Array.isArray(content)) return [0x29, property, 0x4e, ...content, 0x4f];
      return [0x29, property, 0x5e, 0x91, content.error[0], 0x91, content.error[1], 0x5f];
    }),
    0x1f,
  ]);
}

export function simpleAck(asked: Asked): Buffer {
  return Buffer.from([0x20, asked.invokeId, asked.service]);
}

export function errorReply(asked: Asked, errorClass: number, code: number): Buffer {
  return Buffer.from([0x50, asked.invokeId, asked.service, 0x91, errorClass, 0x91, code]);
}

export function rejectReply(asked: Asked, reason: number): Buffer {
  return Buffer.from([0x60, asked.invokeId, reason]);
}

export function abortReply(asked: Asked, reason: number): Buffer {
  return Buffer.from([0x71, asked.invokeId, reason]);
}

/** One segment of a reply. */
export function segment(
  asked: Asked,
  part: { sequence: number; more: boolean; window: number; content: Uint8Array },
): Buffer {
  const { sequence, more, window, content } = part;
  return Buffer.from([0x38 | (more ? 4 : 0), asked.invokeId, sequence & 255, window, asked.service, ...content]);
}

export function iAm(instance: number, maxApdu = 1476, segmentation = 3): Buffer {
  const device = objectId({ type: 8, instance });
  return Buffer.from([0x10, 0, 0xc4, ...device, 0x22, maxApdu >> 8, maxApdu & 255, 0x91, segmentation, 0x21, 99]);
}

/** A report of changes, confirmed under an id or unconfirmed. */
export function report(options: {
  invokeId: number | null;
  process: number;
  device: number;
  object: ObjectOf;
  value: number;
}): Buffer {
  const { invokeId, process, device, object, value } = options;
  const head = invokeId === null ? [0x10, 2] : [0x00, 0x05, invokeId, 1];
  const of = [0x0b, (process >> 16) & 255, (process >> 8) & 255, process & 255];
  const ids = [0x1c, ...objectId({ type: 8, instance: device }), 0x2c, ...objectId(object), 0x39, 60];
  const values = [0x09, 85, 0x2e, ...real(value), 0x2f, 0x09, 111, 0x2e, ...GOOD_FLAGS, 0x2f];
  return Buffer.from([...head, ...of, ...ids, 0x4e, ...values, 0x4f]);
}

/** Takes a request apart, or throws: what the reader sends is not to be guessed at. */
export function parseRequest(apdu: Buffer, from: Asked['from']): Asked {
  const [invokeId = 0, service = 0] = [apdu[2], apdu[3]];
  const object = (at: number): ObjectOf => ({
    type: (apdu.readUInt32BE(at) / 2 ** 22) | 0,
    instance: apdu.readUInt32BE(at) % 2 ** 22,
  });
  if (service === READ) {
    if (apdu[4] !== 0x0c || apdu[9] !== 0x19) throw new Error(`not a ReadProperty: ${apdu.toString('hex')}`);
    return { apdu, invokeId, service, objects: [{ object: object(5), properties: [apdu[10] ?? 0] }], from };
  }
  if (service === SUBSCRIBE) {
    const at = 5 + ((apdu[4] ?? 0) & 7);
    return { apdu, invokeId, service, objects: [{ object: object(at + 1), properties: [] }], from };
  }
  const objects: { object: ObjectOf; properties: number[] }[] = [];
  for (let at = 4; at < apdu.length; ) {
    if (apdu[at] !== 0x0c || apdu[at + 5] !== 0x1e) throw new Error(`not a request: ${apdu.toString('hex')}`);
    const one = { object: object(at + 1), properties: [] as number[] };
    for (at += 6; apdu[at] === 0x09; at += 2) one.properties.push(apdu[at + 1] ?? 0);
    if (apdu[at] !== 0x1f) throw new Error(`not closed: ${apdu.toString('hex')}`);
    at += 1;
    objects.push(one);
  }
  return { apdu, invokeId, service, objects, from };
}
