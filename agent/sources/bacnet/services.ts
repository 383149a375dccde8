/** The services this side uses, ASHRAE 135 clauses 13, 15 and 16: requests written, answers read. There is no other. */
import { fail, ok, type Result } from './decoded.ts';
import { Octets } from './octets.ts';
import {
  applicationNumber,
  atClosing,
  atContext,
  atOpening,
  type BacnetValue,
  contextObject,
  contextUnsigned,
  expectClosing,
  expectOpening,
  type ObjectId,
  readValue,
  valuesWithin,
} from './values.ts';

export const PROPERTY = {
  description: 28,
  maxApduLengthAccepted: 62,
  objectList: 76,
  objectName: 77,
  presentValue: 85,
  reliability: 103,
  segmentationSupported: 107,
  statusFlags: 111,
  units: 117,
} as const;
export const DEVICE_OBJECT = 8;

/** One property of an object; `index` of an array's element, 0 its length. */
export interface PropertyReference {
  readonly object: ObjectId;
  readonly property: number;
  readonly index?: number;
}

/** What a device says of one property: its values, or the error it gives instead. */
export type PropertyAnswer =
  | { readonly ok: true; readonly values: readonly BacnetValue[] }
  | { readonly ok: false; readonly errorClass: number; readonly code: number };

export interface PropertyResult extends PropertyReference {
  readonly answer: PropertyAnswer;
}

function contextNumber(number: number, value: number): number[] {
  const bytes = value < 0x100 ? 1 : value < 0x1_0000 ? 2 : value < 0x100_0000 ? 3 : 4;
  const content = Array.from({ length: bytes }, (_, i) => Math.floor(value / 256 ** (bytes - 1 - i)) % 256);
  return [(number << 4) | 8 | bytes, ...content];
}

function contextObjectId(number: number, { type, instance }: ObjectId): number[] {
  const word = type * 0x40_0000 + instance;
  return [(number << 4) | 0x0c, word >>> 24, (word >>> 16) & 0xff, (word >>> 8) & 0xff, word & 0xff];
}

/** Devices with an instance from `low` to `high` are asked to say where they are. */
export function writeWhoIs(low: number, high: number): number[] {
  return [...contextNumber(0, low), ...contextNumber(1, high)];
}

export function writeReadProperty({ object, property, index }: PropertyReference): number[] {
  const at = index === undefined ? [] : contextNumber(2, index);
  return [...contextObjectId(0, object), ...contextNumber(1, property), ...at];
}

export function writeReadPropertyMultiple(
  asks: readonly { object: ObjectId; properties: readonly number[] }[],
): number[] {
  return asks.flatMap(({ object, properties }) => [
    ...contextObjectId(0, object),
    0x1e,
    ...properties.flatMap((property) => contextNumber(0, property)),
    0x1f,
  ]);
}

/** With a lifetime: begins or renews a subscription; without: cancels it. */
export function writeSubscribeCov(options: { process: number; object: ObjectId; lifetimeS?: number }): number[] {
  const { process, object, lifetimeS } = options;
  const confirmed = [0x29, 1];
  const begins = lifetimeS === undefined ? [] : [...confirmed, ...contextNumber(3, lifetimeS)];
  return [...contextNumber(0, process), ...contextObjectId(1, object), ...begins];
}

function done<T>(octets: Octets, value: T): Result<T> {
  octets.end();
  return octets.fault === null ? ok(value) : fail(octets.fault);
}

export interface IAm {
  readonly instance: number;
  readonly maxApdu: number;
  readonly segmentation: number;
  readonly vendor: number;
}

export function readIAm(payload: Uint8Array): Result<IAm> {
  const octets = new Octets(payload);
  const device = readValue(octets);
  if (device.type !== 'object' || device.value.type !== DEVICE_OBJECT) octets.fail('an I-Am of no device');
  const instance = device.type === 'object' ? device.value.instance : 0;
  const maxApdu = applicationNumber(octets, 'unsigned');
  const segmentation = applicationNumber(octets, 'enumerated');
  return done(octets, { instance, maxApdu, segmentation, vendor: applicationNumber(octets, 'unsigned') });
}

function optionalIndex(octets: Octets, number: number): { index?: number } {
  return atContext(octets, number) ? { index: contextUnsigned(octets, number) } : {};
}

export function readReadPropertyAck(payload: Uint8Array): Result<PropertyResult> {
  const octets = new Octets(payload);
  const object = contextObject(octets, 0);
  const property = contextUnsigned(octets, 1);
  const at = optionalIndex(octets, 2);
  return done(octets, { object, property, ...at, answer: { ok: true, values: valuesWithin(octets, 3) } });
}

export function readReadPropertyMultipleAck(payload: Uint8Array): Result<PropertyResult[]> {
  const octets = new Octets(payload);
  const results: PropertyResult[] = [];
  while (octets.left > 0) {
    const object = contextObject(octets, 0);
    expectOpening(octets, 1);
    while (octets.left > 0 && !atClosing(octets, 1)) {
      const property = contextUnsigned(octets, 2);
      const at = optionalIndex(octets, 3);
      results.push({ object, property, ...at, answer: answerWithin(octets) });
    }
    expectClosing(octets, 1);
  }
  return done(octets, results);
}

function answerWithin(octets: Octets): PropertyAnswer {
  if (!atOpening(octets, 5)) return { ok: true, values: valuesWithin(octets, 4) };
  expectOpening(octets, 5);
  const errorClass = applicationNumber(octets, 'enumerated');
  const code = applicationNumber(octets, 'enumerated');
  expectClosing(octets, 5);
  return { ok: false, errorClass, code };
}

/** A report of changed values, confirmed or not: both have one layout. */
export interface CovNotification {
  readonly process: number;
  readonly device: ObjectId;
  readonly object: ObjectId;
  readonly values: readonly { readonly property: number; readonly values: readonly BacnetValue[] }[];
}

export function readCovNotification(payload: Uint8Array): Result<CovNotification> {
  const octets = new Octets(payload);
  const process = contextUnsigned(octets, 0);
  const device = contextObject(octets, 1);
  const object = contextObject(octets, 2);
  contextUnsigned(octets, 3);
  const values: { property: number; values: BacnetValue[] }[] = [];
  expectOpening(octets, 4);
  while (octets.left > 0 && !atClosing(octets, 4)) {
    const property = contextUnsigned(octets, 0);
    const whole = !atContext(octets, 1);
    if (!whole) contextUnsigned(octets, 1);
    const held = valuesWithin(octets, 2);
    if (atContext(octets, 3)) contextUnsigned(octets, 3);
    if (whole) values.push({ property, values: held });
  }
  expectClosing(octets, 4);
  return done(octets, { process, device, object, values });
}
