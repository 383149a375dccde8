/** What is mailed of an alarm: one step of its life, as it waits in the outbox. Plain JSON. */
import type { AlarmEvent, AlarmReport } from '../alarms/evaluate.ts';
import type { Message } from '../base/delivery.ts';

export interface AlarmNotice extends AlarmReport {
  /** People are written to about two steps: it began (or came off its shelf while it stands), and it ended. */
  readonly change: 'raised' | 'cleared';
  /** Sequence number of the minute in which it happened: with chiller and alarm it names the event for ever. */
  readonly sequence: number;
  /** End of that minute, RFC 3339 UTC. */
  readonly time: string;
}

/** The notice of an event, or null where nobody is written to about it: a shelved alarm was shelved to be silent. */
export function noticeOf(
  { change, report }: Pick<AlarmEvent, 'change' | 'report'>,
  { sequence, time }: { readonly sequence: number; readonly time: string },
): AlarmNotice | null {
  const { state } = report;
  if (state === 'shelved' || state === 'out of service') return null;
  const told = change === 'unshelved' && state === 'unacknowledged' ? 'raised' : change;
  if (told !== 'raised' && told !== 'cleared') return null;
  return { ...report, change: told, sequence, time };
}

/** Name of an event within its chiller, `condenser-approach.1234`: the alarm, and the minute in which it was raised. */
export function eventName({ id, sequence }: { readonly id: string; readonly sequence: number }): string {
  return `${id}.${sequence}`;
}

/** Numbered, so that what a bound gives up leaves a gap record where it was, for the people it would have reached. */
export function noticeMessage(notice: AlarmNotice): Message {
  return {
    sink: 'mail',
    address: `${notice.chiller}/priority-${notice.priority}`,
    payload: JSON.stringify(notice),
    retain: false,
    chiller: notice.chiller,
    sequence: notice.sequence,
  };
}

/** Priority that an address of `noticeMessage` speaks of; the most urgent where it is none of ours. */
export function priorityOf(address: string): 1 | 2 | 3 {
  const [, found = '1'] = /\/priority-([123])$/.exec(address) ?? [];
  return Number(found) as 1 | 2 | 3;
}
