/** What leaves over MQTT of one chiller's metrics. */
import type { Message } from '../base/delivery.ts';
import type { Figure } from '../base/metric.ts';
import { type CatalogueEntry, catalogue } from './catalogue.ts';
import { type SplitFigures, splitFigures } from './figures.ts';

export interface MetricsPayload extends SplitFigures {
  /** RFC 3339 UTC, the interval's end. */
  readonly time: string;
  readonly sequence: number;
  readonly state: string;
  /** Sensors that contradict the others, in groups of which one is off; empty while none is. */
  readonly suspects: readonly (readonly string[])[];
}

export interface MetricsMinute {
  /** `<prefix>/<site>` */
  readonly root: string;
  readonly chiller: string;
  readonly time: string;
  readonly sequence: number;
  readonly state: string;
  readonly suspects: MetricsPayload['suspects'];
  readonly figures: Readonly<Record<string, Figure>>;
}

/** `<root>/<chiller>/metrics`: `uncertainty` holds those that have one, `quality` those that are not good. */
export function metricsMessage({ root, chiller, time, sequence, state, suspects, figures }: MetricsMinute): Message {
  const payload: MetricsPayload = { time, sequence, state, ...splitFigures(figures), suspects };
  return {
    sink: 'mqtt',
    address: `${root}/${chiller}/metrics`,
    payload: JSON.stringify(payload),
    retain: false,
    chiller,
    sequence,
  };
}

export interface DescribePayload {
  readonly arrangement: string;
  readonly refrigerant: string;
  readonly metrics: Readonly<Record<string, CatalogueEntry>>;
}

/** Retained at `<root>/<chiller>/describe`: how to read the figures of this chiller. */
export function describePayload(chiller: {
  readonly machine: { readonly arrangement: string; readonly refrigerant: string };
}): DescribePayload {
  const { arrangement, refrigerant } = chiller.machine;
  return { arrangement, refrigerant, metrics: catalogue() };
}
