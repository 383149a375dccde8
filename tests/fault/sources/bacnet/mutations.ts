/** Replies damaged at random in the ways that networks, routers and firmware damage them; from a seed. */
import {
  type Asked,
  abortReply,
  errorReply,
  framed,
  iAm,
  multipleReply,
  type ObjectOf,
  READ,
  readReply,
  rejectReply,
  report,
  segment,
} from './frames.ts';

/**
 * A value that says which object and which question it answers, with a check over both, as the content of a double: a
 * value on the wrong point, or of an earlier question, is recognised whatever way it took; one damaged on the way is
 * not mistaken for either.
 */
export function fingerprint({ instance }: ObjectOf, nonce: number): number[] {
  const body = [0x40, instance >> 8, instance & 255, (nonce >> 16) & 255, (nonce >> 8) & 255, nonce & 255];
  return [0x55, 8, ...body, ...check(body)];
}

/** CRC-16 of MODBUS over Serial Line V1.02, section 6.2.2, taken here for any bytes. */
function check(body: readonly number[]): [number, number] {
  let crc = 0xffff;
  for (const byte of body) {
    crc ^= byte;
    for (let i = 0; i < 8; i += 1) crc = crc & 1 ? (crc >> 1) ^ 0xa001 : crc >> 1;
  }
  return [crc >> 8, crc & 255];
}

/** Object and question that a value claims to answer; null where its check fails: it was damaged. */
export function claimOf(value: number): { instance: number; nonce: number } | null {
  const bytes = Buffer.alloc(8);
  bytes.writeDoubleBE(value);
  const [high, low] = check([...bytes.subarray(0, 6)]);
  if (bytes[0] !== 0x40 || bytes[6] !== high || bytes[7] !== low) return null;
  return { instance: bytes.readUInt16BE(1), nonce: bytes.readUIntBE(3, 3) };
}

/** The honest reply to a question, every value with its fingerprint. */
export function honestReply(asked: Asked, nonce: number): Buffer {
  const content = (object: ObjectOf): number[] => fingerprint(object, nonce);
  if (asked.service !== READ) return multipleReply(asked, content);
  return readReply(asked, content(asked.objects[0]?.object ?? { type: 0, instance: 0 }));
}

export class Mutator {
  readonly #random: () => number;
  readonly #past: Buffer[] = [];
  #made = 0;

  constructor(random: () => number) {
    this.#random = random;
  }

  pick(below: number): number {
    return Math.floor(this.#random() * below);
  }

  /** A datagram: mostly with a length that agrees, so that the damage lies deeper. */
  datagram(asked: Asked, nonce: number): Buffer {
    let apdu: Buffer = honestReply(asked, nonce);
    const whole = framed(apdu);
    // the right answer to another question stays whole: damaged back to this one it could not be told on the bus
    if (this.pick(10) === 0) apdu = this.#misplaced(asked, nonce);
    else for (let times = 1 + this.pick(3); times > 0; times -= 1) apdu = this.#damage(apdu, asked);
    let frame = framed(apdu);
    if (this.pick(5) === 0) frame = this.#bend(frame);
    if (this.pick(12) === 0) frame = this.#past[this.pick(64)] ?? frame;
    // the last 64 alone: nearer than the next use of the same invoke id
    this.#past[this.#made % 64] = whole;
    this.#made += 1;
    return frame;
  }

  #damage(apdu: Buffer, asked: Asked): Buffer {
    const at = this.pick(Math.max(1, apdu.length));
    switch (this.pick(14)) {
      case 0:
      case 1:
      case 2: // one bit, anywhere
        return put(apdu, at, (apdu[at] ?? 0) ^ (1 << this.pick(8)));
      case 3: // one bit of the head
        return put(apdu, this.pick(4), (apdu[this.pick(4)] ?? 0) ^ (1 << this.pick(8)));
      case 4: // one byte
        return put(apdu, at, this.pick(256));
      case 5: // cut off
        return apdu.subarray(0, at);
      case 6: // bytes lost
        return Buffer.concat([apdu.subarray(0, at), apdu.subarray(at + 1 + this.pick(4))]);
      case 7: // bytes put in
        return Buffer.concat([apdu.subarray(0, at), this.#noise(1 + this.pick(6)), apdu.subarray(at)]);
      case 8: // bytes behind the end
        return Buffer.concat([apdu, this.#noise(1 + this.pick(200))]);
      case 9: // a piece twice
        return Buffer.concat([apdu.subarray(0, at), apdu.subarray(Math.max(0, at - 20))]);
      case 10: // a length of its own
        return put(apdu, at, [0x25, 0x45, 0x55, 0x75, 0xfe, 0xff, 0x2e, 0x3f, 0x4e, 0x4f, 0x1f][this.pick(11)] ?? 0);
      case 11: // a refusal, rightly made or not
        return (
          [
            errorReply(asked, this.pick(9), this.pick(100)),
            rejectReply(asked, this.pick(256)),
            abortReply(asked, this.pick(256)),
          ][this.pick(3)] ?? apdu
        );
      case 12: // a segment
        return segment(asked, {
          sequence: this.pick(3),
          more: this.pick(2) === 0,
          window: this.pick(256),
          content: apdu.subarray(3),
        });
      default: // what nobody asked for
        return this.#unasked();
    }
  }

  /** Answers to other objects, or to these in another order. */
  #misplaced(asked: Asked, nonce: number): Buffer {
    const objects = this.pick(2) === 0 ? this.#others(asked) : asked.objects.toReversed();
    return honestReply({ ...asked, objects }, nonce);
  }

  #others(asked: Asked): Asked['objects'] {
    return asked.objects.map(({ object, properties }) => ({
      properties,
      object: { ...object, instance: object.instance ^ (1 + this.pick(7)) },
    }));
  }

  #unasked(): Buffer {
    const object = { type: 0, instance: this.pick(64) };
    const made = [
      () => iAm(this.pick(4_194_304), this.pick(65_536), this.pick(5)),
      () => report({ invokeId: this.pick(256), process: this.pick(65_536), device: 42, object, value: 1 }),
      () => Buffer.from('0e'.repeat(this.pick(700)), 'hex'),
      () => this.#noise(this.pick(300)),
    ];
    return made[this.pick(made.length)]?.() ?? Buffer.alloc(0);
  }

  /** The layers below the APDU. */
  #bend(frame: Buffer): Buffer {
    const at = this.pick(6);
    switch (this.pick(4)) {
      case 0:
        return put(frame, at, this.pick(256));
      case 1:
        return put(frame, at, (frame[at] ?? 0) ^ (1 << this.pick(8)));
      case 2:
        return frame.subarray(0, this.pick(frame.length + 1));
      default:
        return Buffer.concat([frame, this.#noise(1 + this.pick(20))]);
    }
  }

  #noise(length: number): Buffer {
    return Buffer.from(Array.from({ length }, () => this.pick(256)));
  }
}

function put(bytes: Buffer, at: number, value: number): Buffer {
  if (at >= bytes.length) return bytes;
  const changed = Buffer.from(bytes);
  changed[at] = value;
  return changed;
}
