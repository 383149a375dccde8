/** Who wants to hear of changes: ASHRAE 135 clauses 13.1 and 13.14, from memory. */
import { type BacnetError, CONFIRMED, DEVICE, ERROR, PDU, PROPERTY, UNCONFIRMED } from './codes.ts';
import type { Monitored, ObjectTable, ShownObject } from './objects.ts';
import { type Peer, peerKey } from './peer.ts';
import type { Reader } from './reader.ts';
import { findObject } from './services.ts';
import { Writer } from './writer.ts';

const RETRY_MS = 3000;
const TRIES = 4;

interface Subscription {
  readonly peer: Peer;
  readonly process: number;
  readonly object: ShownObject;
  readonly confirmed: boolean;
  /** ms; infinite without a lifetime. */
  readonly ends: number;
  /** What was last reported; null: nothing yet. */
  last: Monitored | null;
}

/** A confirmed notification that waits for its acknowledgement. */
interface Waiting {
  readonly peer: Peer;
  readonly apdu: Buffer;
  tries: number;
  sentAt: number;
}

export interface SubscriptionOptions {
  readonly table: ObjectTable;
  readonly send: (apdu: Buffer, peer: Peer, expectingReply: boolean) => void;
  readonly most: number;
}

export class Subscriptions {
  private readonly options: SubscriptionOptions;
  private readonly all = new Map<string, Subscription>();
  private readonly waiting = new Map<string, Waiting>();
  private nextId = 0;

  constructor(options: SubscriptionOptions) {
    this.options = options;
  }

  get size(): number {
    return this.all.size;
  }

  /** Takes a subscription or ends one; the first report goes out with the next `report`. */
  subscribe(request: Reader, peer: Peer, now: number): BacnetError | null {
    const { table, most } = this.options;
    const process = request.unsigned(0);
    const id = request.object(1);
    const confirmed = request.has(2) ? request.unsigned(2) !== 0 : null;
    const lifetime = request.has(3) ? request.unsigned(3) : null;
    const object = findObject(table, id);
    if (object === undefined) return ERROR.unknownObject;
    const key = `${peerKey(peer)}#${process}#${object.type}:${object.instance}`;
    if (confirmed === null && lifetime === null) {
      this.all.delete(key);
      return null;
    }
    if (table.monitored(object.type, object.instance) === undefined) return ERROR.covNotSupported;
    if (!this.all.has(key) && this.all.size >= most) return ERROR.noRoom;
    const ends = lifetime === null || lifetime === 0 ? Number.POSITIVE_INFINITY : now + lifetime * 1000;
    this.all.set(key, { peer, process, object, confirmed: confirmed ?? false, ends, last: null });
    return null;
  }

  /** Sends what changed since it was last reported, and repeats what nobody acknowledged. */
  report(now: number): void {
    const { table } = this.options;
    for (const [key, one] of this.all) {
      if (now >= one.ends) {
        this.all.delete(key);
        continue;
      }
      const { type, instance } = one.object;
      const state = table.monitored(type, instance) as Monitored;
      if (one.last !== null && !table.changed(type, instance, one.last, state)) continue;
      one.last = state;
      this.notify(one, now);
    }
    for (const [key, one] of this.waiting) {
      if (now - one.sentAt < RETRY_MS) continue;
      one.tries += 1;
      one.sentAt = now;
      if (one.tries > TRIES) this.waiting.delete(key);
      else this.options.send(one.apdu, one.peer, true);
    }
  }

  /** A simple reply, error, reject or abort of the subscriber: either way it is not sent again. */
  settled(peer: Peer, invokeId: number): void {
    this.waiting.delete(`${peerKey(peer)}#${invokeId}`);
  }

  private notify(one: Subscription, now: number): void {
    const { send } = this.options;
    const body = this.body(one, now);
    if (!one.confirmed) {
      send(Buffer.concat([Buffer.from([PDU.unconfirmed << 4, UNCONFIRMED.covNotification]), body]), one.peer, false);
      return;
    }
    this.nextId = (this.nextId % 255) + 1;
    const head = Buffer.from([PDU.confirmed << 4, 0x05, this.nextId, CONFIRMED.covNotification]);
    const apdu = Buffer.concat([head, body]);
    this.waiting.set(`${peerKey(one.peer)}#${this.nextId}`, { peer: one.peer, apdu, tries: 1, sentAt: now });
    send(apdu, one.peer, true);
  }

  private body(one: Subscription, now: number): Buffer {
    const { object, process, ends } = one;
    const left = Number.isFinite(ends) ? Math.max(1, Math.round((ends - now) / 1000)) : 0;
    const out = new Writer()
      .contextUnsigned(0, process)
      .contextObject(1, DEVICE, this.options.table.device.instance)
      .contextObject(2, object.type, object.instance)
      .contextUnsigned(3, left)
      .open(4);
    for (const id of [PROPERTY.presentValue, PROPERTY.statusFlags]) {
      const property = object.properties.get(id);
      out.contextUnsigned(0, id).open(2);
      if (property !== undefined && 'one' in property) property.one(out);
      out.close(2);
    }
    return out.close(4).finish();
  }
}
