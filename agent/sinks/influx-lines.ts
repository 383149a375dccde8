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
 * The lines of a message, without an end of line at the end; null where it is none of ours. `now`, ms since the epoch,
 * stamps a gap record, which has no time of its own.
 */
export function linesOf(message: QueuedMessage, names: LineNames, now: number): string | null {
  const payload = parsed(message.payload);
  if (payload === null) return null;
  const { chiller } = message;
  if ('gap' in payload) return textOf([gapLine(payload['gap'], { ...names, chiller, now })]);
  const { sequence, interval_s, metrics, points } = payload as Partial<StorePayload>;
  const time = typeof payload['time'] === 'string' ? parseRfc3339(payload['time']) : null;
  if (time === null || typeof sequence !== 'number' || !isGroup(metrics) || !isGroup(points)) return null;
  const minute = start('_minute', names, chiller).intField('sequence', sequence).timestamp(time);
  if (typeof interval_s === 'number') minute.floatField('interval_s', interval_s);
  return textOf([
    ...figureLines(metrics, { tag: 'metric', time, point: () => start('', names, chiller), unit: metricUnit }),
    ...figureLines(points, { tag: 'point', time, point: () => start('_point', names, chiller), unit: pointUnit }),
    minute,
  ]);
}

function start(suffix: string, { site, measurement }: LineNames, chiller: string): Point {
  return new Point(`${measurement}${suffix}`).tag('site', site).tag('chiller', chiller);
}

interface FigureLines {
  readonly tag: 'metric' | 'point';
  readonly time: number;
  readonly point: () => Point;
  readonly unit: (name: string) => string | null;
}

function figureLines(figures: StoreFigures, { tag, time, point, unit }: FigureLines): Point[] {
  return Object.entries(figures).map(([name, [value, uncertainty, quality]]) => {
    const line = point().tag(tag, name).floatField('value', value).intField('quality', quality).timestamp(time);
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

function gapLine(gap: unknown, { now, chiller, ...names }: LineNames & { chiller: string; now: number }): Point {
  const { from_sequence, to_sequence, count } = gap as Readonly<Record<string, number>>;
  return start('_gap', names, chiller)
    .intField('from_sequence', from_sequence)
    .intField('to_sequence', to_sequence)
    .intField('count', count)
    .timestamp(now);
}

function textOf(points: readonly Point[]): string {
  const convertTime = (time: unknown): string => String(time);
  return points.flatMap((point) => point.toLineProtocol({ convertTime }) ?? []).join('\n');
}

function parsed(text: string): Readonly<Record<string, unknown>> | null {
  try {
    const value: unknown = JSON.parse(text);
    return isGroup(value) ? value : null;
  } catch {
    return null;
  }
}

function isGroup(value: unknown): value is Readonly<Record<string, never>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
