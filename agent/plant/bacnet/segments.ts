/** Replies too long for one datagram, sent in windows of segments: ASHRAE 135 clause 5.2 and 5.4, from memory. */
import { PDU } from './codes.ts';
import { type Peer, peerKey } from './peer.ts';

const PROPOSED_WINDOW = 4;
const TRIES = 3;
/** Head of a segment. */
const HEAD = 5;

export interface LongReply {
  readonly peer: Peer;
  readonly invokeId: number;
  readonly service: number;
  readonly body: Buffer;
  /** Longest application message that the client takes. */
  readonly maxApdu: number;
}

interface Sending extends LongReply {
  readonly count: number;
  /** First segment of the window that is out. */
  first: number;
  window: number;
  tries: number;
  sentAt: number;
}

export interface SegmentOptions {
  readonly send: (apdu: Buffer, peer: Peer) => void;
  readonly timeoutMs: number;
  /** Replies under way at once. */
  readonly most: number;
}

export function segmentsOf(length: number, maxApdu: number): number {
  return Math.ceil(length / (maxApdu - HEAD));
}

export class SegmentSender {
  private readonly options: SegmentOptions;
  private readonly sending = new Map<string, Sending>();

  constructor(options: SegmentOptions) {
    this.options = options;
  }

  /** False: too many are under way. `now` in ms. */
  begin(reply: LongReply, now: number): boolean {
    const key = this.key(reply.peer, reply.invokeId);
    if (!this.sending.has(key) && this.sending.size >= this.options.most) return false;
    const count = segmentsOf(reply.body.length, reply.maxApdu);
    const one: Sending = { ...reply, count, first: 0, window: 1, tries: 0, sentAt: now };
    this.sending.set(key, one);
    this.sendWindow(one);
    return true;
  }

  private key(peer: Peer, invokeId: number): string {
    return `${peerKey(peer)}#${invokeId}`;
  }

  private sendWindow(one: Sending): void {
    for (let i = one.first; i < Math.min(one.count, one.first + one.window); i++) this.sendSegment(one, i);
  }

  private sendSegment(one: Sending, index: number): void {
    const size = one.maxApdu - HEAD;
    const more = index < one.count - 1 ? 4 : 0;
    const head = [(PDU.complex << 4) | 8 | more, one.invokeId, index & 0xff, PROPOSED_WINDOW, one.service];
    const part = one.body.subarray(index * size, (index + 1) * size);
    this.options.send(Buffer.concat([Buffer.from(head), part]), one.peer);
  }

  /** The client has everything up to `sequence`, or not the one after it. */
  acknowledged(peer: Peer, ack: { invokeId: number; sequence: number; window: number }, now: number): void {
    const key = this.key(peer, ack.invokeId);
    const one = this.sending.get(key);
    if (one === undefined) return;
    const ahead = (ack.sequence - (one.first - 1)) & 0xff;
    // Counted from the one before the window: 0 to its length; anything else is an old acknowledgement.
    if (ahead > one.window) return;
    one.first += ahead;
    if (one.first >= one.count) {
      this.sending.delete(key);
      return;
    }
    one.window = Math.min(127, Math.max(1, ack.window));
    one.sentAt = now;
    if (ahead > 0) one.tries = 0;
    this.sendWindow(one);
  }

  aborted(peer: Peer, invokeId: number): void {
    this.sending.delete(this.key(peer, invokeId));
  }

  /** Sends again what nobody acknowledged; gives up in the end. */
  tick(now: number): void {
    for (const [key, one] of this.sending) {
      if (now - one.sentAt < this.options.timeoutMs) continue;
      one.tries += 1;
      one.sentAt = now;
      if (one.tries > TRIES) this.sending.delete(key);
      else this.sendWindow(one);
    }
  }
}
