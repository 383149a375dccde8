/**
 * The outbox in the store: messages enter within the minute's transaction, sinks take and settle them.
 *
 *     commit -> [gap][oldest] ... [newest] -> sink         order: position, then id
 *
 * Beyond its bound the oldest go first. What goes from a numbered stream leaves a gap record in its place, one per
 * address that grows with each loss, so a subscriber that misses numbers learns that they will not come. A gap record
 * has an id of its own: an acknowledgement still under way for the message it replaces cannot remove it.
 */
import type { Delivery, Message, Outbox, OutboxCounts, QueuedMessage } from '../base/delivery.ts';
import type { Fault } from '../base/result.ts';
import { faultCode, type Row, type Store } from './store.ts';

interface Count {
  waiting: number;
  bytes: number;
  accepted: number;
  rejected: number;
  dropped: number;
}

export interface OutboxLimits {
  readonly outbox_messages_max: number;
  readonly outbox_bytes_max: number;
}

/** Numbers lost before they were stored. */
export interface Lost {
  readonly message: Message;
  from: number;
  to: number;
  count: number;
}

const COLUMNS = 'id, sink, address, payload, retain, chiller, sequence';

export class StoredOutbox implements Outbox {
  readonly #store: () => Store;
  readonly #limits: OutboxLimits;
  readonly #report: (fault: Fault) => void;
  #counts = new Map<string, Count>();
  #position = 0;
  /**
   * Settled by a sink but still in the file, because the file takes no writes now: never handed out again, removed when
   * it does.
   */
  readonly #settled = new Map<number, Delivery>();

  constructor(store: () => Store, limits: OutboxLimits, report: (fault: Fault) => void) {
    this.#store = store;
    this.#limits = limits;
    this.#report = report;
  }

  /** Counts what the file holds, after opening it. Counters since the start go on. */
  recount(): void {
    const store = this.#store();
    for (const count of this.#counts.values()) Object.assign(count, { waiting: 0, bytes: 0 });
    for (const row of store.all('SELECT sink, count(*) AS waiting, sum(bytes) AS bytes FROM outbox GROUP BY sink'))
      Object.assign(this.#count(String(row['sink'])), { waiting: Number(row['waiting']), bytes: Number(row['bytes']) });
    this.#position = Number(store.get('SELECT coalesce(max(position), 0) AS last FROM outbox')?.['last']);
  }

  /** Another file took the place of the old one: what was settled there has no meaning here. */
  replaced(): void {
    this.#settled.clear();
    this.recount();
  }

  /** Within the caller's transaction. */
  append(messages: readonly Message[]): void {
    for (const message of messages) this.#insert(message, ++this.#position, null);
    for (const sink of new Set(messages.map(({ sink }) => sink))) this.#bound(sink);
  }

  /** Within the caller's transaction: tells the stream of numbers that were lost before they were stored. */
  appendLost({ message, from, to, count }: Lost): void {
    this.#insert({ ...message, sequence: to }, ++this.#position, { from, count });
  }

  oldest(sink: string, count: number): readonly QueuedMessage[] {
    const rows = this.#store().all(
      `SELECT ${COLUMNS} FROM outbox WHERE sink = ? ORDER BY position, id LIMIT ?`,
      sink,
      count + this.#settled.size,
    );
    const messages = rows.map(queued).filter(({ id }) => !this.#settled.has(id));
    return messages.length > count ? messages.slice(0, count) : messages;
  }

  settle(id: number, delivery: Delivery): void {
    this.settleAll([id], delivery);
  }

  settleAll(ids: readonly number[], delivery: Delivery): void {
    if (delivery === 'keep') return;
    for (const id of ids) this.#settled.set(id, delivery);
    this.removeSettled();
  }

  /** Removes what sinks settled. A file that takes no writes keeps it for the next time; the sink is not held up. */
  removeSettled(): void {
    if (this.#settled.size === 0) return;
    const store = this.#store();
    const undo = this.mark();
    try {
      store.durable(false);
      store.transaction(() => {
        for (const [id, delivery] of this.#settled) this.#remove(store, id, delivery);
      });
      this.#settled.clear();
    } catch (error) {
      undo();
      if (faultCode(error) === null) throw error;
    } finally {
      store.durable(true);
    }
  }

  /** Remembers the counts; the way back to them is for a transaction that did not happen. */
  mark(): () => void {
    const counts = new Map([...this.#counts].map(([sink, count]) => [sink, { ...count }]));
    const position = this.#position;
    return () => {
      this.#counts = counts;
      this.#position = position;
    };
  }

  counts(sink: string): OutboxCounts {
    return { ...this.#count(sink) };
  }

  #remove(store: Store, id: number, delivery: Delivery): void {
    const row = store.get(`SELECT ${COLUMNS}, position, bytes, gap_count FROM outbox WHERE id = ?`, id);
    if (row === undefined) return; // dropped by the bound while it was under way
    const count = this.#count(String(row['sink']));
    if (delivery === 'accept') count.accepted++;
    else {
      count.rejected++;
      // A numbered message that the far end will never take is missing from its stream: say so in its place.
      if (row['sequence'] !== null && row['gap_count'] === null) this.#replaceByGap(store, row);
    }
    this.#delete(store, row);
  }

  #delete(store: Store, row: Row): void {
    const count = this.#count(String(row['sink']));
    count.waiting--;
    count.bytes -= Number(row['bytes']);
    store.run('DELETE FROM outbox WHERE id = ?', Number(row['id']));
  }

  #bound(sink: string): void {
    const count = this.#count(sink);
    const dropped = count.dropped;
    const store = this.#store();
    const { outbox_messages_max, outbox_bytes_max } = this.#limits;
    while (count.waiting > outbox_messages_max || count.bytes > outbox_bytes_max) {
      const row = store.get(
        `SELECT ${COLUMNS}, position, bytes FROM outbox WHERE sink = ? AND gap_count IS NULL ORDER BY position, id LIMIT 1`,
        sink,
      );
      if (row === undefined) break; // gap records alone: one per address
      count.dropped++;
      if (row['sequence'] !== null) this.#replaceByGap(store, row);
      this.#delete(store, row);
    }
    if (count.dropped > dropped)
      this.#report({
        code: 'history_dropped',
        message: `outbox of ${sink}: ${count.dropped - dropped} oldest messages given up at the bound, ${count.dropped} since the start`,
      });
  }

  /**
   * Puts a gap record where a numbered message was, and takes into it the one that its address has already, if it lies
   * before.
   */
  #replaceByGap(store: Store, row: Row): void {
    const sequence = Number(row['sequence']);
    let from = sequence;
    let count = 1;
    const earlier = store.get(
      `SELECT ${COLUMNS}, position, bytes, gap_from, gap_count FROM outbox
       WHERE sink = ? AND address = ? AND gap_count IS NOT NULL AND position <= ? ORDER BY position DESC LIMIT 1`,
      String(row['sink']),
      String(row['address']),
      Number(row['position']),
    );
    // Joined only where nothing of the same address waits between the two: a gap record never covers a number that is
    // still to come.
    if (earlier !== undefined && !this.#between(store, earlier, row)) {
      from = Math.min(from, Number(earlier['gap_from']));
      count += Number(earlier['gap_count']);
      this.#delete(store, earlier);
    }
    this.#insert(queued(row), Number(row['position']), { from, count });
  }

  #between(store: Store, earlier: Row, later: Row): boolean {
    return (
      store.get(
        `SELECT 1 FROM outbox WHERE sink = ? AND address = ? AND gap_count IS NULL AND position > ? AND position < ? LIMIT 1`,
        String(later['sink']),
        String(later['address']),
        Number(earlier['position']),
        Number(later['position']),
      ) !== undefined
    );
  }

  #insert(message: Message, position: number, gap: { from: number; count: number } | null): void {
    const payload = gap === null ? message.payload : gapPayload(gap.from, message.sequence as number, gap.count);
    const bytes = Buffer.byteLength(payload) + Buffer.byteLength(message.address);
    this.#store().run(
      `INSERT INTO outbox (position, sink, address, payload, retain, chiller, sequence, bytes, gap_from, gap_count)
       VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
      position,
      message.sink,
      message.address,
      payload,
      message.retain && gap === null ? 1 : 0,
      message.chiller,
      message.sequence,
      bytes,
      gap?.from ?? null,
      gap?.count ?? null,
    );
    const count = this.#count(message.sink);
    count.waiting++;
    count.bytes += bytes;
  }

  #count(sink: string): Count {
    let count = this.#counts.get(sink);
    if (count === undefined) {
      count = { waiting: 0, bytes: 0, accepted: 0, rejected: 0, dropped: 0 };
      this.#counts.set(sink, count);
    }
    return count;
  }
}

/** Numbers `from` to `to` of the stream will not come: `count` messages were given up. */
export function gapPayload(from: number, to: number, count: number): string {
  return JSON.stringify({ gap: { from_sequence: from, to_sequence: to, count } });
}

function queued(row: Row): QueuedMessage {
  return {
    id: Number(row['id']),
    sink: String(row['sink']),
    address: String(row['address']),
    payload: String(row['payload']),
    retain: row['retain'] === 1,
    chiller: String(row['chiller']),
    sequence: row['sequence'] === null ? null : Number(row['sequence']),
  };
}
