/**
 * What is under way to the far end, in the order of the outbox. Settled is only what stands at the front, answered: so
 * whatever happens to the connection, the outbox still begins with the oldest message that has no answer.
 */
import type { Outbox, QueuedMessage } from '../base/delivery.ts';
import { LIMITS } from '../base/limits.ts';

export interface InFlight {
  readonly message: QueuedMessage;
  answered: 'accept' | 'reject' | null;
}

export class Flight {
  readonly #outbox: Outbox;
  readonly #sink: string;
  #entries: InFlight[] = [];
  /** Taken from the outbox, not yet sent. */
  #ready: QueuedMessage[] = [];

  constructor(outbox: Outbox, sink: string) {
    this.#outbox = outbox;
    this.#sink = sink;
  }

  get size(): number {
    return this.#entries.length;
  }

  /** The oldest message that is not under way, or null. */
  next(): QueuedMessage | null {
    if (this.#ready.length === 0) {
      const under = new Set(this.#entries.map(({ message }) => message.id));
      const asked = Math.min(LIMITS.outbox_batch_max, under.size + LIMITS.mqtt_in_flight_max);
      this.#ready = this.#outbox.oldest(this.#sink, asked).filter(({ id }) => !under.has(id));
    }
    return this.#ready.shift() ?? null;
  }

  add(message: QueuedMessage): InFlight {
    const entry: InFlight = { message, answered: null };
    this.#entries.push(entry);
    return entry;
  }

  /** Settles what is answered, from the front up to the first that is not; `before` is called ahead of each. */
  settle(before: () => void): void {
    for (let entry = this.#entries[0]; entry !== undefined && entry.answered !== null; entry = this.#entries[0]) {
      before();
      this.#outbox.settle(entry.message.id, entry.answered);
      this.#entries.shift();
      if (entry.answered === 'reject') this.lookAgain();
    }
  }

  /** A rejected message has left a gap record in its place: that one is the oldest now. */
  lookAgain(): void {
    this.#ready = [];
  }

  /** The connection is gone: everything is in the outbox still, and the next one starts from its oldest. */
  forget(): void {
    this.#entries = [];
    this.#ready = [];
  }
}
