/** What of a minute leaves the agent: messages for the sinks that the site has, and for no other. */
import type { Message } from './base/delivery.ts';
import { storeMessage } from './metrics/store-payload.ts';
import type { MinuteOutcome } from './minute.ts';
import type { Site } from './site/site.ts';

export function outgoing(site: Site, { record, messages }: Pick<MinuteOutcome, 'record' | 'messages'>): Message[] {
  const { chiller, time, sequence, interval_s, figures, points } = record;
  const store = storeMessage({ site: site.id, chiller, time, sequence, interval_s, figures, points });
  return [...(site.mqtt === null ? [] : messages), ...(site.influx === null ? [] : [store])];
}
