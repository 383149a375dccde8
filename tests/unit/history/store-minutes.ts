/** Minutes as they leave for a time-series store. */
import type { Message } from '../../../agent/base/delivery.ts';
import type { Figure } from '../../../agent/base/metric.ts';
import { rfc3339 } from '../../../agent/base/time.ts';
import { storeMessage } from '../../../agent/metrics/store-payload.ts';
import { START } from './helpers.ts';

export const good = (value: number | null, uncertainty: number | null = null): Figure => ({
  value,
  uncertainty,
  quality: value === null ? 'bad' : 'good',
  reason: value === null ? 'no sensor' : null,
});

/** The minute of a sequence number: a power that is the number, a figure that is missing, a point in doubt. */
export function storeMinute(sequence: number, chiller = 'CH-1'): Message {
  return storeMessage({
    site: 'kestrel-quay',
    chiller,
    time: rfc3339(START + sequence * 60_000),
    sequence,
    interval_s: 60,
    figures: { 'unit.power': good(sequence + 0.25, 0.5), 'unit.kw_per_ton': good(null) },
    points: { 'unit.running': { value: 1, uncertainty: null, quality: 'uncertain', reason: 'frozen' } },
  });
}

/** Values that such a minute leaves in a store: power with three fields, the point with two, the minute with two. */
export const VALUES_PER_MINUTE = 7;
