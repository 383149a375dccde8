/**
 * Framing of Modbus TCP (MODBUS Messaging on TCP/IP Implementation Guide V1.0b, section 3.1.3) with every field of a
 * reply checked against what was asked: transaction id, protocol id, length, unit, function, byte count. Works on any
 * wire of bytes; `tcp.ts` gives it a socket.
 */
import { LIMITS } from '../../base/limits.ts';
import { assert } from '../../base/result.ts';
import type { Timers } from '../timers.ts';
import { type ExchangeOutcome, REQUEST_BYTES, refusal, replyBytes } from './pdu.ts';
import type { ModbusConnection } from './transport.ts';

/** Where bytes leave; what arrives is handed to `received`, the end of the stream to `ended`. */
export interface Wire {
  send(bytes: Uint8Array): void;
  /** Frees the descriptor at once, whatever the far end does; resolves when it is free. */
  destroy(): Promise<void>;
}

const HEADER_BYTES = 7;
/** Header, function and byte count (or exception code): everything that is checked. */
const CHECKED_BYTES = 9;
const IDS = 0x1_0000;
const NOTHING = new Uint8Array(0);

/**
 * Random transaction ids, one set per host across its connections. An id is not drawn again within the next 8192
 * requests: a gateway that replays an old reply does not answer a present request.
 */
export class TransactionIds {
  readonly #random: () => number;
  readonly #recent = new Uint16Array(8192);
  readonly #used = new Uint8Array(IDS);
  #drawn = 0;

  constructor(random: () => number) {
    this.#random = random;
  }

  next(): number {
    let id = Math.floor(this.#random() * IDS) & 0xffff;
    while (this.#used[id] === 1) id = (id + 1) & 0xffff;
    const slot = this.#drawn % this.#recent.length;
    if (this.#drawn >= this.#recent.length) this.#used[this.#recent[slot] as number] = 0;
    this.#recent[slot] = id;
    this.#used[id] = 1;
    this.#drawn += 1;
    return id;
  }
}

interface Waiting {
  readonly id: number;
  readonly unit: number;
  readonly functionCode: number;
  readonly bytes: number;
  readonly settle: (outcome: ExchangeOutcome) => void;
  readonly cancelDeadline: () => void;
}

type Judgement = { readonly need: number } | { readonly wrong: string };

/** Judges as many bytes of a reply as have arrived: how long the frame must become, or what is wrong with it. */
function judge(frame: Uint8Array, asked: Waiting): Judgement {
  const at = (index: number): number => frame[index] as number;
  const word = (index: number): number => (at(index) << 8) | at(index + 1);
  const had = frame.length;
  if (had >= 2 && word(0) !== asked.id) return { wrong: `reply to transaction ${word(0)} instead of ${asked.id}` };
  if (had >= 4 && word(2) !== 0) return { wrong: `protocol id ${word(2)} instead of 0` };
  const length = had >= 6 ? word(4) : 0;
  if (had >= 6 && length !== 3 && length !== 3 + asked.bytes) {
    return { wrong: `length ${length} instead of ${3 + asked.bytes}` };
  }
  if (had >= 7 && at(6) !== asked.unit) return { wrong: `reply of unit ${at(6)} instead of ${asked.unit}` };
  const code = had >= 8 ? at(7) : 0;
  if (had >= 8 && code === (asked.functionCode | 0x80)) {
    return length === 3 ? { need: CHECKED_BYTES } : { wrong: `an exception of length ${length} instead of 3` };
  }
  if (had >= 8 && code !== asked.functionCode) return { wrong: `function ${code} instead of ${asked.functionCode}` };
  if (had >= 8 && length !== 3 + asked.bytes) return { wrong: `length ${length} instead of ${3 + asked.bytes}` };
  if (had >= 9 && at(8) !== asked.bytes) return { wrong: `byte count ${at(8)} instead of ${asked.bytes}` };
  return { need: had >= 8 ? CHECKED_BYTES + asked.bytes : CHECKED_BYTES };
}

function isPrefix(part: Uint8Array, whole: Uint8Array): boolean {
  const length = Math.min(part.length, whole.length);
  for (let i = 0; i < length; i += 1) if (part[i] !== whole[i]) return false;
  return true;
}

function joined(a: Uint8Array, b: Uint8Array): Uint8Array {
  if (a.length === 0) return b;
  const both = new Uint8Array(a.length + b.length);
  both.set(a);
  both.set(b, a.length);
  return both;
}

export class MbapConnection implements ModbusConnection {
  readonly #wire: Wire;
  readonly #ids: TransactionIds;
  readonly #timers: Timers;
  #waiting: Waiting | null = null;
  #pending: Uint8Array = NOTHING;
  /** The reply accepted last: a copy of it that follows is a duplicate, not a mystery. */
  #last: Uint8Array = NOTHING;
  #copiesOfLast = 0;
  #closed: Promise<void> | null = null;
  duplicates = 0;
  duplicatesInRow = 0;

  constructor(options: { wire: Wire; ids: TransactionIds; timers: Timers }) {
    this.#wire = options.wire;
    this.#ids = options.ids;
    this.#timers = options.timers;
  }

  get usable(): boolean {
    return this.#closed === null;
  }

  exchange(options: { unit: number; pdu: Uint8Array; timeoutMs: number }): Promise<ExchangeOutcome> {
    const { unit, pdu, timeoutMs } = options;
    const why = refusal(pdu);
    if (why !== null) return Promise.resolve({ kind: 'refused', reason: why });
    assert(this.#waiting === null, 'one request in flight per connection');
    if (!this.usable) return Promise.resolve({ kind: 'failed', cause: 'closed', reason: 'connection is closed' });
    return new Promise((settle) => {
      const id = this.#ids.next();
      const cancelDeadline = this.#timers.after(timeoutMs, () => this.#late(timeoutMs));
      this.#waiting = { id, unit, functionCode: pdu[0] as number, bytes: replyBytes(pdu), settle, cancelDeadline };
      const frame = new Uint8Array(HEADER_BYTES + REQUEST_BYTES);
      frame.set([id >> 8, id & 0xff, 0, 0, 0, 1 + REQUEST_BYTES, unit]);
      frame.set(pdu, HEADER_BYTES);
      this.#wire.send(frame);
    });
  }

  close(): Promise<void> {
    return this.#giveUp('closed', 'connection closed by the agent');
  }

  /** Bytes from the wire, in any pieces. */
  received(chunk: Uint8Array): void {
    if (!this.usable) return;
    this.#pending = joined(this.#pending, chunk);
    while (this.usable && this.#pending.length > 0) {
      const step = this.#isCopy() ? this.#dropCopy() : this.#takeReply();
      if (step === 'more') return;
    }
  }

  /** The stream has ended or broken. */
  ended(reason: string): void {
    void this.#giveUp('closed', reason);
  }

  #late(timeoutMs: number): void {
    const had = this.#pending.length;
    const what = had > 0 ? `reply incomplete: ${had} bytes` : 'no reply';
    void this.#giveUp('silent', `${what} within ${timeoutMs} ms`);
  }

  #isCopy(): boolean {
    const pending = this.#pending;
    if (this.#last.length === 0 || !isPrefix(pending, this.#last)) return false;
    // with one byte alone it may as well be the reply that is due; ids are never the same twice in a row
    return this.#waiting === null || pending.length >= 2;
  }

  #dropCopy(): 'more' | 'next' {
    if (this.#pending.length < this.#last.length) return 'more';
    this.#pending = this.#pending.subarray(this.#last.length);
    this.#copiesOfLast += 1;
    this.duplicates += 1;
    if (this.#copiesOfLast === 1) this.duplicatesInRow += 1;
    if (this.#copiesOfLast > LIMITS.modbus_duplicates_max) this.#distrust('one reply repeated without end');
    return 'next';
  }

  #takeReply(): 'more' | 'next' {
    const asked = this.#waiting;
    if (asked === null) return this.#distrust(`${this.#pending.length} bytes that nobody asked for`);
    const judgement = judge(this.#pending, asked);
    if ('wrong' in judgement) return this.#distrust(judgement.wrong);
    if (this.#pending.length < judgement.need) return 'more';
    // a copy: what arrived is a view of a large buffer of the socket's
    const frame = new Uint8Array(this.#pending.subarray(0, judgement.need));
    const rest = this.#pending.subarray(judgement.need);
    if (!isPrefix(rest, frame)) return this.#distrust('bytes beyond the end of the reply');
    this.#accept(asked, frame, rest);
    return 'next';
  }

  #accept(asked: Waiting, frame: Uint8Array, rest: Uint8Array): void {
    if (this.#copiesOfLast === 0) this.duplicatesInRow = 0;
    this.#copiesOfLast = 0;
    this.#last = frame;
    this.#pending = rest;
    this.#waiting = null;
    asked.cancelDeadline();
    if (frame[7] === asked.functionCode) asked.settle({ kind: 'reply', data: frame.subarray(CHECKED_BYTES) });
    else asked.settle({ kind: 'exception', code: frame[8] as number });
  }

  #distrust(reason: string): 'more' {
    void this.#giveUp('malformed', reason);
    return 'more';
  }

  #giveUp(cause: 'silent' | 'closed' | 'malformed', reason: string): Promise<void> {
    if (this.#closed !== null) return this.#closed;
    this.#closed = this.#wire.destroy();
    const asked = this.#waiting;
    this.#waiting = null;
    this.#pending = NOTHING;
    if (asked !== null) {
      asked.cancelDeadline();
      asked.settle({ kind: 'failed', cause, reason });
    }
    return this.#closed;
  }
}
