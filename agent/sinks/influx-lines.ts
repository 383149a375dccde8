/**
 * A queued minute as lines of line protocol, escaped by the library. One series for each figure of a chiller, so that
 * their number is bounded by the catalogue:
 *
 *     <measurement>,chiller=,metric=,site=,unit= quality=,uncertainty=,value=     what was computed
 *     <measurement>_point,chiller=,point=,site=,unit= ...                         what was read
 *     <measurement>_minute,chiller=,site= sequence=,interval_s=                   one for each minute
 *     <measurement>_gap,chiller=,site= from_sequence=,to_sequence=,count=         minutes that will not come
 *
 * The stamp is the interval's end. All of it follows from the message alone: written twice, it is the same point.
 */
import { Point } from '@influxdata/influxdb-client';
import type { QueuedMessage } from '../base/delivery.ts';
import { parseRfc3339 } from '../base/time.ts';
import { catalogue } from '../metrics/catalogue.ts';
import type { StoreFigures, StorePayload } from '../metrics/store-payload.ts';
import { isPoint, pointDefinition } from '../points/dictionary.ts';

export interface LineNames {
  readonly site: string;
  readonly measurement: string;
}

/**
 * The lines of a message, without an end of line at the end; null where it is none that this version can read. `now`,
 * ms since the epoch, stamps a gap record, which has no time of its own.
 */
export function linesOf(message: QueuedMessage, names: LineNames, now: number): string | null {
  const payload = parsed(message.payload);
  if (payload === null) return null;
  try {
    return textOf(pointsOf(payload, { ...names, chiller: message.chiller, now }));
  } catch {
    // The library throws at what is no number: a message of another shape.
    return null;
  }
}

interface Naming extends LineNames {
  readonly chiller: string;
  readonly now: number;
}

function pointsOf(payload: Readonly<Record<string, unknown>>, naming: Naming): Point[] {
  if ('gap' in payload) return [gapPoint(payload['gap'] as Readonly<Record<string, number>>, naming)];
  const { time, sequence, interval_s, metrics, points } = payload as unknown as StorePayload;
  const stamp = parseRfc3339(time);
  if (stamp === null) throw new Error('a minute has an end');
  return [
    ...figurePoints(metrics, { tag: 'metric', stamp, point: () => start('', naming), unit: metricUnit }),
    ...figurePoints(points, { tag: 'point', stamp, point: () => start('_point', naming), unit: pointUnit }),
    start('_minute', naming).intField('sequence', sequence).floatField('interval_s', interval_s).timestamp(stamp),
  ];
}

function start(suffix: string, { site, measurement, chiller }: Naming): Point {
  return new Point(`${measurement}${suffix}`).tag('site', site).tag('chiller', chiller);
}

interface FigurePoints {
  readonly tag: 'metric' | 'point';
  readonly stamp: number;
  readonly point: () => Point;
  readonly unit: (name: string) => string | null;
}

function figurePoints(figures: StoreFigures, { tag, stamp, point, unit }: FigurePoints): Point[] {
  return Object.entries(figures).map(([name, [value, uncertainty, quality]]) => {
    const line = point().tag(tag, name).floatField('value', value).intField('quality', quality).timestamp(stamp);
    if (uncertainty !== null) line.floatField('uncertainty', uncertainty);
    const known = unit(name);
    return known === null ? line : line.tag('unit', known);
  });
}

/** Null for a name that an earlier version of the agent queued and this one no longer has. */
function metricUnit(name: string): string | null {
  return catalogue()[name]?.unit ?? null;
}

function pointUnit(name: string): string | null {
  return isPoint(name) ? pointDefinition(name).unit : null;
}

function gapPoint(gap: Readonly<Record<string, number>>, naming: Naming): Point {
  const point = start('_gap', naming).timestamp(naming.now);
  for (const field of ['from_sequence', 'to_sequence', 'count']) point.intField(field, gap[field]);
  return point;
}

function textOf(points: readonly Point[]): string {
  const convertTime = (time: unknown): string => String(time);
  return points.flatMap((point) => point.toLineProtocol({ convertTime }) ?? []).join('\n');
}

function parsed(text: string): Readonly<Record<string, unknown>> | null {
  try {
    const value: unknown = JSON.parse(text);
    return typeof value === 'object' && value !== null ? (value as Record<string, unknown>) : null;
  } catch {
    return null;
  }
}
