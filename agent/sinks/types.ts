import type { ErrorCode } from '../base/errors.ts';
import type { Result } from '../base/result.ts';

/** How a sink stands to its far end. */
export interface SinkStatus {
  readonly state: 'connecting' | 'connected' | 'lost' | 'stopped';
  /** ms since the epoch since when the state holds. */
  readonly since: number;
  /** Why it is not connected or takes nothing, one phrase with what to do; null where all is well. */
  readonly reason: string | null;
  readonly code: ErrorCode | null;
  readonly in_flight: number;
  readonly counters: Readonly<Record<string, number>>;
}

/**
 * Drains the outbox towards one far end. `init` validates without the network, `start` does I/O, `stop` is idempotent
 * and bounded.
 */
export interface Sink {
  init(): Result<void>;
  start(): void;
  stop(): Promise<void>;
  /** New messages were committed. Returns at once. */
  wake(): void;
  status(): SinkStatus;
}

/**
 * Sent anew at each connection, before anything of the outbox: what the far end should know of this agent. Retained.
 */
export interface Announcement {
  readonly address: string;
  readonly payload: string;
}
