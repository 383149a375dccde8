/** Rows of an export: one for each stored minute, with columns that are the same from the first row to the last. */
import { rfc3339 } from '../base/time.ts';
import type { StoredRecord } from '../history/types.ts';
import { catalogue } from '../metrics/catalogue.ts';
import { isPoint, pointDefinition } from '../points/dictionary.ts';
import type { Offsets } from '../season/zone.ts';
import { nearest } from '../site/nearest.ts';
import type { Site } from '../site/site.ts';

/** One name of an export. A metric, or a point where no metric has that name, as in the API. */
export interface ExportName {
  readonly name: string;
  readonly unit: string;
}

/** What `--metrics` lists; left out: every metric, then the mapped points. Otherwise what is wrong, one sentence. */
export function exportNames(list: string | undefined, site: Site): readonly ExportName[] | string {
  const metrics = Object.entries(catalogue()).map(([name, { unit }]) => ({ name, unit }));
  const mapped = new Set(site.chillers.flatMap(({ points }) => points.map(({ name }) => name)));
  const points = [...mapped].filter((name) => catalogue()[name] === undefined).map(pointName);
  if (list === undefined) return [...metrics, ...points];
  const found: ExportName[] = [];
  for (const name of new Set(list.split(',').map((each) => each.trim()))) {
    const metric = catalogue()[name];
    if (metric !== undefined) found.push({ name, unit: metric.unit });
    else if (isPoint(name)) found.push(pointName(name));
    else {
      const meant = nearest(name, [...metrics.map((each) => each.name), ...mapped]);
      const hint = meant === null ? 'config/catalogue.md has the names' : `the nearest is '${meant}'`;
      return `there is no metric or point '${name}'; ${hint}`;
    }
  }
  return found;
}

function pointName(name: string): ExportName {
  return { name, unit: pointDefinition(name).unit };
}

/** One figure of a row; `quality` null where the minute does not know the name, as one of an earlier version. */
export interface ExportFigure {
  readonly value: number | null;
  readonly unit: string;
  readonly uncertainty: number | null;
  readonly quality: string | null;
  readonly reason: string | null;
}

export interface ExportRow {
  readonly time: string;
  readonly local_time: string;
  readonly chiller: string;
  readonly sequence: number;
  readonly interval_s: number | null;
  readonly state: string | null;
  readonly figures: Readonly<Record<string, ExportFigure>>;
}

export interface RowShape {
  readonly names: readonly ExportName[];
  readonly offsets: Offsets;
}

/** What a stored record may hold, as `watch.ts` writes it; earlier versions wrote less. */
interface Kept {
  readonly interval_s?: number;
  readonly state?: string;
  readonly values?: Readonly<Record<string, number | null>>;
  readonly uncertainty?: Readonly<Record<string, number>>;
  readonly quality?: Readonly<Record<string, { readonly quality: string; readonly reason: string }>>;
  readonly points?: Readonly<Record<string, number | null>>;
  readonly point_detail?: Readonly<Record<string, ExportFigure>>;
}

export function exportRow(chiller: string, stored: StoredRecord, { names, offsets }: RowShape): ExportRow {
  const kept = parsed(stored.record);
  return {
    time: rfc3339(stored.time),
    local_time: localInstant(stored.time, offsets),
    chiller,
    sequence: stored.sequence,
    interval_s: kept.interval_s ?? null,
    state: kept.state ?? null,
    figures: Object.fromEntries(names.map(({ name, unit }) => [name, figureOf(kept, name, unit)])),
  };
}

function figureOf(kept: Kept, name: string, unit: string): ExportFigure {
  const { values = {}, points = {} } = kept;
  const nothing = { value: null, unit, uncertainty: null, quality: null, reason: null };
  if (Object.hasOwn(values, name)) {
    const { quality = 'good', reason = null } = kept.quality?.[name] ?? {};
    return { value: values[name] ?? null, unit, uncertainty: kept.uncertainty?.[name] ?? null, quality, reason };
  }
  if (!Object.hasOwn(points, name)) return nothing;
  const { uncertainty = null, quality = null, reason = null } = kept.point_detail?.[name] ?? {};
  return { value: points[name] ?? null, unit, uncertainty, quality, reason };
}

function parsed(text: string): Kept {
  try {
    const value: unknown = JSON.parse(text);
    return typeof value === 'object' && value !== null ? value : {};
  } catch {
    return {};
  }
}

/** RFC 3339 with the offset of the site's zone: `2026-07-01T08:00:00+01:00`. */
function localInstant(time: number, offsets: Offsets): string {
  const offset = offsets(time);
  // RFC 3339 has offsets of whole minutes; zones with seconds are of before 1972.
  const minutes = Math.round(Math.abs(offset) / 60_000);
  const two = (value: number): string => String(value).padStart(2, '0');
  const zone = `${offset < 0 ? '-' : '+'}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
  return `${rfc3339(time + offset).slice(0, -1)}${zone}`;
}

const LEADING = ['time', 'local_time', 'chiller', 'sequence', 'interval_s', 'state'] as const;

/** One format of an export: what stands before all rows, and a row; each ends its line. */
export interface ExportFormat {
  readonly head: string;
  row(row: ExportRow): string;
}

/**
 * RFC 4180, lines ended by a line feed. Three columns a name: value, expanded uncertainty (k = 2), quality; what is
 * missing is empty.
 */
export function csv(names: readonly ExportName[]): ExportFormat {
  const columns = names.flatMap(({ name, unit }) => [
    `${name} [${unit}]`,
    `${name} uncertainty [${unit === 'degC' ? 'K' : unit}]`,
    `${name} quality`,
  ]);
  return {
    head: `${[...LEADING, ...columns].map(cell).join(',')}\n`,
    row: (row) => {
      const figures = names.flatMap(({ name }) => {
        const { value, uncertainty, quality } = row.figures[name] as ExportFigure;
        return [value, uncertainty, quality];
      });
      return `${[...LEADING.map((key) => row[key]), ...figures].map(cell).join(',')}\n`;
    },
  };
}

function cell(value: string | number | null): string {
  if (value === null) return '';
  const text = String(value);
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** One JSON object a minute; every figure with unit, uncertainty (expanded, k = 2), quality and reason. */
export const NDJSON: ExportFormat = { head: '', row: (row) => `${JSON.stringify(row)}\n` };
