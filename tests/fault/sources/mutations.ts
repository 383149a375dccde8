import type { LineOutcome } from '../../../agent/sources/modbus/line.ts';
import { type Asked, exception, honest } from './lying-server.ts';

/**
 * Replies damaged at random in the ways that wires, gateways and firmware damage them; from a seed, so that a run can
 * be repeated.
 */
export class Mutator {
  readonly #random: () => number;
  /** Replies of the past, to be played again. */
  readonly #past: Buffer[] = [];

  constructor(random: () => number) {
    this.#random = random;
  }

  pick(below: number): number {
    return Math.floor(this.#random() * below);
  }

  /** One to three damages of the honest reply; now and then they cancel out, and the honest reply is left. */
  mutate(asked: Asked): Buffer {
    const reply = honest(asked);
    let frame: Buffer = Buffer.from(reply);
    const times = 1 + this.pick(3);
    for (let i = 0; i < times; i += 1) frame = this.#damage(frame, asked);
    this.#past[this.pick(64)] = reply;
    return frame;
  }

  #damage(frame: Buffer, asked: Asked): Buffer {
    const at = this.pick(Math.max(1, frame.length));
    const header = this.pick(9);
    switch (this.pick(16)) {
      case 0:
      case 1: // one bit, anywhere
        return this.#put(frame, at, (frame[at] ?? 0) ^ (1 << this.pick(8)));
      case 2:
      case 3: // one bit of what is checked
        return this.#put(frame, header, (frame[header] ?? 0) ^ (1 << this.pick(8)));
      case 4: // any byte of what is checked
        return this.#put(frame, header, this.pick(256));
      case 5: // cut off
        return frame.subarray(0, at);
      case 6: // a byte lost
        return Buffer.concat([frame.subarray(0, at), frame.subarray(at + 1)]);
      case 7: // bytes put in
        return Buffer.concat([frame.subarray(0, at), this.#noise(1 + this.pick(4)), frame.subarray(at)]);
      case 8: // bytes behind the end
        return Buffer.concat([frame, this.#noise(1 + this.pick(300))]);
      case 9: // twice, the copy cut
        return Buffer.concat([frame, frame.subarray(0, at)]);
      case 10: // a length of its own
        return frame.length < 6 ? frame : this.#put(frame, 5, this.pick(256));
      case 11: // a byte count and a length that agree with each other and not with the question
        return honest({ ...asked, count: 1 + this.pick(125) });
      case 12: // another unit or another function
        return honest({ ...asked, [this.pick(2) === 0 ? 'unit' : 'code']: 1 + this.pick(4) });
      case 13: // a reply of the past
        return this.#past[this.pick(64)] ?? frame;
      case 14: // an exception, of this or another function
        return exception({ ...asked, code: this.pick(4) === 0 ? this.pick(128) : asked.code }, this.pick(256));
      default: // noise alone
        return this.#noise(this.pick(300));
    }
  }

  #put(frame: Buffer, at: number, value: number): Buffer {
    if (at >= frame.length) return frame;
    const changed = Buffer.from(frame);
    changed[at] = value;
    return changed;
  }

  #noise(length: number): Buffer {
    return Buffer.from(Array.from({ length }, () => this.pick(256)));
  }
}

export type Verdict = 'accepted rightly' | 'malformed accepted' | 'not taken';

/**
 * Judges an outcome by the layout alone: a value may be taken only from bytes whose transaction id, protocol id,
 * length, unit, function and byte count are those that the question demands, whole; an exception only from its nine
 * bytes.
 */
export function judgeOutcome(outcome: LineOutcome, asked: Asked, sent: Buffer): Verdict {
  if (outcome.kind === 'reply') {
    const due = honest(asked);
    const same = sent.length >= due.length && sent.subarray(0, 9).equals(due.subarray(0, 9));
    return same && sent.subarray(9, due.length).equals(outcome.data) ? 'accepted rightly' : 'malformed accepted';
  }
  if (outcome.kind === 'exception') {
    const due = exception(asked, outcome.code);
    return sent.subarray(0, 9).equals(due) ? 'accepted rightly' : 'malformed accepted';
  }
  return 'not taken';
}
