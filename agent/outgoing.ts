/** What of a minute leaves the agent: messages for the sinks that the site has, and for no other. */
import type { Message } from './base/delivery.ts';
import { noticeMessage, noticeOf } from './callout/notice.ts';
import { storeMessage } from './metrics/store-payload.ts';
import type { MinuteOutcome } from './minute.ts';
import type { SiteMail } from './site/mail.ts';
import type { Site } from './site/site.ts';

/** `packets` makes the callout packets, which cost more than the rest: only where they have somewhere to go. */
export function outgoing(
  site: Site,
  { record, messages, events }: Pick<MinuteOutcome, 'record' | 'messages' | 'events'>,
  packets: () => readonly Message[],
): Message[] {
  const { chiller, time, sequence, interval_s, figures, points } = record;
  const store = storeMessage({ site: site.id, chiller, time, sequence, interval_s, figures, points });
  return [
    ...(site.mqtt === null ? [] : [...messages, ...packets()]),
    ...(site.influx === null ? [] : [store]),
    ...(site.mail === null ? [] : notices(site.mail, record, events)),
  ];
}

/** Of alarms that somebody wants to be written to about. */
function notices(
  { to, cleared }: SiteMail,
  { sequence, time }: MinuteOutcome['record'],
  events: MinuteOutcome['events'],
): Message[] {
  return events.flatMap((event) => {
    const notice = noticeOf(event, { sequence, time });
    const wanted = notice !== null && (cleared || notice.change !== 'cleared');
    return wanted && to.some(({ priorities }) => priorities.includes(notice.priority)) ? [noticeMessage(notice)] : [];
  });
}
