/**
 * Bytes read from the front and never beyond their end. The first thing that is wrong is kept as the fault; from then
 * on every read gives nothing, so that a decoder needs no check between two reads and ends by itself.
 */
export class Octets {
  readonly #bytes: Uint8Array;
  #at = 0;
  #fault: string | null = null;

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
  }

  get fault(): string | null {
    return this.#fault;
  }

  /** Bytes that are left; none after a fault. */
  get left(): number {
    return this.#fault === null ? this.#bytes.length - this.#at : 0;
  }

  fail(fault: string): void {
    this.#fault ??= fault;
  }

  u8(): number {
    if (this.left < 1) {
      this.fail('cut short');
      return 0;
    }
    const byte = this.#bytes[this.#at] as number;
    this.#at += 1;
    return byte;
  }

  /** Big-endian, exact to six bytes. */
  unsigned(length: number): number {
    let value = 0;
    for (let i = 0; i < length; i += 1) value = 256 * value + this.u8();
    return value;
  }

  /** A view, not a copy. */
  take(length: number): Uint8Array {
    if (length > this.left) {
      this.fail('a length beyond the end');
      return this.#bytes.subarray(0, 0);
    }
    this.#at += length;
    return this.#bytes.subarray(this.#at - length, this.#at);
  }

  rest(): Uint8Array {
    return this.take(this.left);
  }

  /** The next byte, or null. */
  peek(): number | null {
    return this.left > 0 ? (this.#bytes[this.#at] as number) : null;
  }

  /** Claims that nothing is left. */
  end(): void {
    if (this.left > 0) this.fail(`${this.left} bytes beyond the end`);
  }
}
