/**
 * Tags and values of ASHRAE 135 clause 20.2, read. Total: any bytes give a value or a fault of the octets, and what has
 * no meaning here is passed over by its length.
 */
import { Octets } from './octets.ts';

export interface ObjectId {
  readonly type: number;
  readonly instance: number;
}

export type BacnetValue =
  | { readonly type: 'null' }
  | { readonly type: 'boolean'; readonly value: boolean }
  /** `value` null: a whole number beyond 2^53, which no number holds exactly. Reals can be NaN or infinite. */
  | { readonly type: 'unsigned' | 'signed' | 'real' | 'double' | 'enumerated'; readonly value: number | null }
  | { readonly type: 'octets'; readonly value: Uint8Array }
  /** `value` null: a character set that is not read here, or bytes that are none of it. */
  | { readonly type: 'string'; readonly value: string | null; readonly characterSet: number }
  | { readonly type: 'bits'; readonly value: readonly boolean[] }
  /** Year in full; null: any. */
  | { readonly type: 'date'; readonly year: number | null; readonly month: number; readonly day: number }
  | { readonly type: 'time'; readonly hour: number; readonly minute: number; readonly second: number }
  | { readonly type: 'object'; readonly value: ObjectId }
  /** Passed over: a reserved tag, a context tag, or a construction. */
  | { readonly type: 'other' };

export interface Tag {
  readonly number: number;
  readonly kind: 'application' | 'context' | 'opening' | 'closing';
  /** Bytes of content; the value itself for an application boolean. */
  readonly length: number;
}

export function readTag(octets: Octets): Tag {
  const first = octets.u8();
  const number = first >> 4 === 15 ? octets.u8() : first >> 4;
  const context = (first & 8) !== 0;
  const low = first & 7;
  if (low > 5) {
    if (!context) octets.fail('a tag of no class');
    return { number, kind: low === 6 ? 'opening' : 'closing', length: 0 };
  }
  let length = low;
  if (low === 5) {
    length = octets.u8();
    if (length === 254) length = octets.unsigned(2);
    else if (length === 255) length = octets.unsigned(4);
  }
  return { number, kind: context ? 'context' : 'application', length };
}

/** Whether the next tag is that of a context (numbers below 15). */
export function atContext(octets: Octets, number: number): boolean {
  const next = octets.peek();
  return next !== null && (next & 0xf8) === ((number << 4) | 8) && (next & 7) < 6;
}

export function atOpening(octets: Octets, number: number): boolean {
  return octets.peek() === ((number << 4) | 0x0e);
}

export function atClosing(octets: Octets, number: number): boolean {
  return octets.peek() === ((number << 4) | 0x0f);
}

export function expectOpening(octets: Octets, number: number): void {
  if (!atOpening(octets, number)) octets.fail(`opening tag ${number} is missing`);
  octets.u8();
}

export function expectClosing(octets: Octets, number: number): void {
  if (!atClosing(octets, number)) octets.fail(`closing tag ${number} is missing`);
  octets.u8();
}

export function contextUnsigned(octets: Octets, number: number): number {
  return octets.unsigned(contextLength(octets, number, 4));
}

export function contextObject(octets: Octets, number: number): ObjectId {
  if (contextLength(octets, number, 4) !== 4) octets.fail('an object identifier that is not of 4 bytes');
  return objectOf(octets.unsigned(4));
}

function contextLength(octets: Octets, number: number, max: number): number {
  if (!atContext(octets, number)) octets.fail(`context tag ${number} is missing`);
  const { length } = readTag(octets);
  if (length < 1 || length > max) octets.fail(`context tag ${number} of length ${length}`);
  return octets.fault === null ? length : 0;
}

/** Application-tagged unsigned or enumerated number of at most four bytes. */
export function applicationNumber(octets: Octets, type: 'unsigned' | 'enumerated'): number {
  const value = readValue(octets);
  if (value.type === type && value.value !== null) return value.value;
  octets.fail(`a value of type ${value.type} where ${type} is due`);
  return 0;
}

function objectOf(word: number): ObjectId {
  return { type: Math.floor(word / 0x40_0000), instance: word % 0x40_0000 };
}

/** The values between an opening and its closing tag. */
export function valuesWithin(octets: Octets, number: number): BacnetValue[] {
  const values: BacnetValue[] = [];
  expectOpening(octets, number);
  while (octets.left > 0 && !atClosing(octets, number)) values.push(readValue(octets));
  expectClosing(octets, number);
  return values;
}

export function readValue(octets: Octets): BacnetValue {
  const tag = readTag(octets);
  if (tag.kind === 'application') return application(octets, tag);
  if (tag.kind === 'closing') octets.fail('a closing tag that was never opened');
  else if (tag.kind === 'context') octets.take(tag.length);
  else skipConstruction(octets);
  return { type: 'other' };
}

/** Passes over everything to the closing tag that belongs to the opening one just read. */
function skipConstruction(octets: Octets): void {
  for (let depth = 1; depth > 0 && octets.fault === null; ) {
    const tag = readTag(octets);
    if (tag.kind === 'opening') depth += 1;
    else if (tag.kind === 'closing') depth -= 1;
    else if (tag.kind === 'context' || tag.number !== 1) octets.take(tag.length);
  }
}

function application(octets: Octets, { number, length }: Tag): BacnetValue {
  if (number === 1) {
    if (length > 1) octets.fail(`a boolean of ${length}`);
    return { type: 'boolean', value: length === 1 };
  }
  const content = new Octets(octets.take(length));
  const value = contentOf(number, content, length);
  if (value.type !== 'other') content.end();
  if (content.fault !== null) octets.fail(`application tag ${number}: ${content.fault}`);
  return value;
}

function contentOf(number: number, content: Octets, length: number): BacnetValue {
  switch (number) {
    case 0:
      return { type: 'null' };
    case 2:
      return { type: 'unsigned', value: whole(content, length, false) };
    case 3:
      return { type: 'signed', value: whole(content, length, true) };
    case 4:
      return { type: 'real', value: view(content, 4)?.getFloat32(0) ?? null };
    case 5:
      return { type: 'double', value: view(content, 8)?.getFloat64(0) ?? null };
    case 6:
      return { type: 'octets', value: new Uint8Array(content.rest()) };
    case 7:
      return text(content);
    case 8:
      return { type: 'bits', value: bits(content) };
    case 9:
      return { type: 'enumerated', value: whole(content, length, false) };
    case 10: {
      const [year, month, day] = [content.u8(), content.u8(), content.u8()];
      content.u8();
      return { type: 'date', year: year === 255 ? null : 1900 + year, month, day };
    }
    case 11: {
      const [hour, minute, second, hundredths] = [content.u8(), content.u8(), content.u8(), content.u8()];
      return { type: 'time', hour, minute, second: hundredths === 255 ? second : second + hundredths / 100 };
    }
    case 12:
      return { type: 'object', value: objectOf(content.unsigned(4)) };
    default:
      return { type: 'other' };
  }
}

/** A whole number of 1 to 8 bytes; null beyond 2^53 and, passed over, of more bytes. */
function whole(content: Octets, length: number, signed: boolean): number | null {
  if (length < 1) content.fail('a number of no bytes');
  const bytes = content.rest();
  if (bytes.length > 8) return null;
  let value = 0n;
  for (const byte of bytes) value = (value << 8n) | BigInt(byte);
  if (signed) value = BigInt.asIntN(8 * bytes.length, value);
  const number = Number(value);
  return Number.isSafeInteger(number) ? number : null;
}

function view(content: Octets, length: number): DataView | null {
  const { buffer, byteOffset, byteLength } = content.take(length);
  return byteLength === length ? new DataView(buffer, byteOffset, length) : null;
}

function bits(content: Octets): boolean[] {
  const unused = content.u8();
  const bytes = content.rest();
  const count = 8 * bytes.length - unused;
  if (unused > 7 || count < 0) content.fail(`${unused} unused bits`);
  return Array.from({ length: Math.max(0, count) }, (_, i) => ((bytes[i >> 3] as number) & (0x80 >> (i & 7))) !== 0);
}

const UTF_8 = 0;
const UCS_2 = 4;
const LATIN_1 = 5;

function text(content: Octets): BacnetValue {
  const characterSet = content.u8();
  return { type: 'string', characterSet, value: characters(characterSet, content.rest()) };
}

function characters(characterSet: number, bytes: Uint8Array): string | null {
  if (characterSet === LATIN_1) return Array.from(bytes, (byte) => String.fromCharCode(byte)).join('');
  if (characterSet !== UTF_8 && !(characterSet === UCS_2 && bytes.length % 2 === 0)) return null;
  try {
    return new TextDecoder(characterSet === UTF_8 ? 'utf-8' : 'utf-16be', { fatal: true, ignoreBOM: true }).decode(
      bytes,
    );
  } catch {
    return null;
  }
}
