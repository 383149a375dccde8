/** Reads tagged values of requests: ASHRAE 135 clause 20.2, from memory. What cannot be read throws `Malformed`. */

export class Malformed extends Error {}

export interface ObjectId {
  readonly type: number;
  readonly instance: number;
}

const OPEN = 6;
const CLOSE = 7;

export class Reader {
  private readonly data: Buffer;
  private at: number;

  constructor(data: Buffer, at = 0) {
    this.data = data;
    this.at = at;
  }

  get done(): boolean {
    return this.at >= this.data.length;
  }

  byte(): number {
    const value = this.data[this.at];
    if (value === undefined) throw new Malformed('it ends early');
    this.at += 1;
    return value;
  }

  word(): number {
    return this.byte() * 256 + this.byte();
  }

  bytes(length: number): Buffer {
    if (length > this.data.length - this.at) throw new Malformed('it ends early');
    this.at += length;
    return this.data.subarray(this.at - length, this.at);
  }

  rest(): Buffer {
    return this.bytes(this.data.length - this.at);
  }

  /** The head of the next tag without taking it: context number and length field, or null where none follows. */
  private peek(): { readonly context: number | null; readonly field: number } | null {
    const head = this.data[this.at];
    if (head === undefined) return null;
    return { context: (head & 8) === 0 ? null : head >> 4, field: head & 7 };
  }

  isOpen(number: number): boolean {
    const next = this.peek();
    return next?.context === number && next.field === OPEN;
  }

  isClose(number: number): boolean {
    const next = this.peek();
    return next?.context === number && next.field === CLOSE;
  }

  open(number: number): void {
    if (!this.isOpen(number)) throw new Malformed(`no opening tag ${number}`);
    this.at += 1;
  }

  close(number: number): void {
    if (!this.isClose(number)) throw new Malformed(`no closing tag ${number}`);
    this.at += 1;
  }

  /** Whether a value of this context number comes next. */
  has(number: number): boolean {
    const next = this.peek();
    return next?.context === number && next.field < OPEN;
  }

  /** Bytes of the value of a context number. */
  private value(number: number): Buffer {
    if (!this.has(number)) throw new Malformed(`no value ${number}`);
    const field = this.byte() & 7;
    let length = field;
    if (field === 5) {
      length = this.byte();
      if (length === 254) length = this.word();
      else if (length === 255) throw new Malformed('a value too long to be true');
    }
    return this.bytes(length);
  }

  unsigned(number: number): number {
    const bytes = this.value(number);
    if (bytes.length < 1 || bytes.length > 4) throw new Malformed('a number of a wrong length');
    return bytes.readUIntBE(0, bytes.length);
  }

  object(number: number): ObjectId {
    const bytes = this.value(number);
    if (bytes.length !== 4) throw new Malformed('an object identifier of a wrong length');
    const word = bytes.readUInt32BE();
    return { type: word >>> 22, instance: word & 0x3fffff };
  }

  text(number: number): string {
    const bytes = this.value(number);
    if (bytes[0] !== 0) throw new Malformed('a text that is not UTF-8');
    return bytes.toString('utf8', 1);
  }
}
