/** Writes tagged values: ASHRAE 135 clause 20.2, from memory. */

export class Writer {
  private readonly bytes: number[] = [];

  get length(): number {
    return this.bytes.length;
  }

  finish(): Buffer {
    return Buffer.from(this.bytes);
  }

  byte(...values: number[]): this {
    for (const value of values) this.bytes.push(value & 0xff);
    return this;
  }

  raw(data: Uint8Array): this {
    for (const value of data) this.bytes.push(value);
    return this;
  }

  private tag(number: number, context: boolean, length: number): void {
    const head = (number << 4) | (context ? 8 : 0);
    if (length < 5) this.byte(head | length);
    else if (length < 254) this.byte(head | 5, length);
    else this.byte(head | 5, 254, length >> 8, length);
  }

  private unsignedBytes(value: number): number[] {
    const out = [value & 0xff];
    for (let rest = Math.floor(value / 256); rest > 0; rest = Math.floor(rest / 256)) out.unshift(rest & 0xff);
    return out;
  }

  private whole(number: number, context: boolean, value: number): this {
    const bytes = this.unsignedBytes(value);
    this.tag(number, context, bytes.length);
    return this.byte(...bytes);
  }

  boolean(value: boolean): this {
    return this.byte((1 << 4) | (value ? 1 : 0));
  }

  unsigned(value: number): this {
    return this.whole(2, false, value);
  }

  real(value: number): this {
    const bytes = Buffer.alloc(4);
    bytes.writeFloatBE(value);
    this.tag(4, false, 4);
    return this.raw(bytes);
  }

  /** UTF-8. */
  text(value: string): this {
    const bytes = Buffer.from(value, 'utf8');
    this.tag(7, false, bytes.length + 1);
    return this.byte(0).raw(bytes);
  }

  bits(values: readonly boolean[]): this {
    const octets = Math.ceil(values.length / 8);
    this.tag(8, false, octets + 1);
    this.byte(octets * 8 - values.length);
    for (let octet = 0; octet < octets; octet++) {
      let byte = 0;
      for (let bit = 0; bit < 8; bit++) if (values[octet * 8 + bit] === true) byte |= 0x80 >> bit;
      this.byte(byte);
    }
    return this;
  }

  enumerated(value: number): this {
    return this.whole(9, false, value);
  }

  object(type: number, instance: number): this {
    this.tag(12, false, 4);
    return this.identifier(type, instance);
  }

  private identifier(type: number, instance: number): this {
    return this.byte(type >> 2, ((type & 3) << 6) | (instance >> 16), instance >> 8, instance);
  }

  contextUnsigned(number: number, value: number): this {
    return this.whole(number, true, value);
  }

  contextObject(number: number, type: number, instance: number): this {
    this.tag(number, true, 4);
    return this.identifier(type, instance);
  }

  open(number: number): this {
    return this.byte((number << 4) | 0xe);
  }

  close(number: number): this {
    return this.byte((number << 4) | 0xf);
  }
}
