/** What one minute of a chiller sends to a time-series store: figures that are there, as numbers. */
import type { Message } from '../base/delivery.ts';
import type { Figure } from '../base/metric.ts';
import type { Quality } from '../base/quality.ts';

/** Value, expanded uncertainty (k = 2) or null, quality as a number; catalogue units. */
export type StoreFigure = readonly [value: number, uncertainty: number | null, quality: number];
export type StoreFigures = Readonly<Record<string, StoreFigure>>;

export interface StorePayload {
  /** RFC 3339 UTC, the interval's end. */
  readonly time: string;
  readonly sequence: number;
  readonly interval_s: number;
  readonly metrics: StoreFigures;
  readonly points: StoreFigures;
}

export interface StoreMinute extends Omit<StorePayload, 'metrics' | 'points'> {
  readonly site: string;
  readonly chiller: string;
  readonly figures: Readonly<Record<string, Figure>>;
  readonly points: Readonly<Record<string, Figure>>;
}

/** The words of OPC UA in the order of their severity: its status codes count good 0, uncertain 1, bad 2. */
const QUALITY: Readonly<Record<Quality, number>> = { good: 0, uncertain: 1, bad: 2 };

/** `<site>/<chiller>` of the sink `influx`. What has no value is left out: a store has no null. */
export function storeMessage({ site, chiller, figures, points, ...minute }: StoreMinute): Message {
  const payload: StorePayload = { ...minute, metrics: present(figures), points: present(points) };
  return {
    sink: 'influx',
    address: `${site}/${chiller}`,
    payload: JSON.stringify(payload),
    retain: false,
    chiller,
    sequence: minute.sequence,
  };
}

function present(figures: Readonly<Record<string, Figure>>): StoreFigures {
  return Object.fromEntries(
    Object.entries(figures).flatMap(([name, { value, uncertainty, quality }]) =>
      value === null ? [] : [[name, [value, uncertainty, QUALITY[quality]]]],
    ),
  );
}
