/** What every sink says of itself: how it stands, and the counts of its messages in the outbox. */
import type { OutboxCounts } from '../base/delivery.ts';
import type { Fault } from '../base/result.ts';
import type { SinkStatus } from './types.ts';

export interface Standing extends Pick<SinkStatus, 'state' | 'since' | 'in_flight' | 'counters'> {
  /** Null where all is well. */
  readonly fault: Fault | null;
}

export function sinkStatus(
  { state, since, fault, in_flight, counters }: Standing,
  { waiting, bytes, accepted, dropped, rejected }: OutboxCounts,
): SinkStatus {
  return {
    state,
    since,
    reason: fault?.message ?? null,
    code: fault?.code ?? null,
    in_flight,
    counters: { ...counters, accepted, rejected, waiting, waiting_bytes: bytes, dropped },
  };
}
