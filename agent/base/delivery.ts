/**
 * What became of a message handed to a sink: taken for good; refused by the far end (never try again); link down (try
 * again later).
 */
export type Delivery = 'accept' | 'reject' | 'keep';

/** One outgoing message, committed with the minute that made it. */
export interface Message {
  /** Which sink drains it: `mqtt`, later `influx`, `mail`. */
  readonly sink: string;
  /** Destination within the sink (an MQTT topic). */
  readonly address: string;
  readonly payload: string;
  /** Whether the far end should keep it for late subscribers. */
  readonly retain: boolean;
  /** The chiller it speaks of; '' for the whole site. Order is kept per chiller. */
  readonly chiller: string;
  /** Sequence number of the minute that made it, null where it is not part of the numbered stream. */
  readonly sequence: number | null;
}

export interface QueuedMessage extends Message {
  readonly id: number;
}

/**
 * The durable queue between the minute's transaction and a sink. Bounded; what the bound drops is counted and
 * reported as a gap record.
 */
export interface Outbox {
  /** The oldest messages of a sink, in order of their commit, at most `count`. */
  oldest(sink: string, count: number): readonly QueuedMessage[];
  /** `accept` and `reject` remove the message (a reject is counted), `keep` leaves it. */
  settle(id: number, delivery: Delivery): void;
  /** The same of several at once, in one transaction: for what left as one. */
  settleAll(ids: readonly number[], delivery: Delivery): void;
  counts(sink: string): OutboxCounts;
}

export interface OutboxCounts {
  readonly waiting: number;
  readonly accepted: number;
  readonly rejected: number;
  readonly dropped: number;
  readonly bytes: number;
}
