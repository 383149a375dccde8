/**
 * A map and a site brought together: how the readings of every mapped column are to be taken. What the map does not say
 * of a point (how sure it is, what can be believed) comes from the site file.
 */
import { unitsFor } from '../base/quantity.ts';
import { type UnitName, unitOf } from '../base/units.ts';
import { readingFromSi, readingToSi } from '../points/convert.ts';
import { pointDefinition } from '../points/dictionary.ts';
import type { PointSpec, PressureReference } from '../points/types.ts';
import { bracketed, unitOfWord } from './header-units.ts';
import { issue, type SiteIssue, type SitePath } from './issues.ts';
import { nearest } from './nearest.ts';
import type { SitePoint } from './points.ts';
import type { ChillerSite, Site } from './site.ts';
import { mapPoint, type TrendMapFile, type TrendMapPoint } from './trend-map.ts';

/** One column (or trend) that is a point of a chiller. */
export interface TrendPoint {
  readonly column: string;
  readonly spec: PointSpec;
  /** Numbers of words, by the word in lower case; null where the map has none of its own. */
  readonly states: Readonly<Record<string, number>> | null;
}

export interface TrendChiller {
  readonly chiller: ChillerSite;
  readonly points: readonly TrendPoint[];
}

/** What the export says of itself; known once its header was read. */
export interface ExportSeen {
  /** Names of the columns, or of the trends where the form is long. */
  readonly names: readonly string[];
  /** Words of a line of units, by the name of their column. */
  readonly units: Readonly<Record<string, string>>;
  /** Usual step between two readings of a point, s; null where it was not seen. */
  readonly step_s: number | null;
}

export interface TrendPoints {
  readonly chillers: readonly TrendChiller[];
  readonly issues: readonly SiteIssue[];
  /** Worth saying, and no mistake: a column whose own unit is another than the map's. */
  readonly notices: readonly string[];
}

/** A reading stands for so many steps of the export where none follows: one may be lacking. */
const HOLD_STEPS = 2.5;
/** As many identical readings as an hour of one a minute; a slow export repeats a steady value for long. */
const FROZEN_STEPS = 60;

/** What can be said of a map against its site, before any export is read. */
export function checkChillers(map: TrendMapFile, site: Site): SiteIssue[] {
  const ids = site.chillers.map(({ id }) => id);
  const columns = new Map<string, SitePath>();
  const issues: SiteIssue[] = [];
  if (Object.keys(map.chillers).length === 0)
    issues.push(issue('config_value', ['chillers'], 'must have at least one chiller'));
  for (const [id, { points }] of Object.entries(map.chillers)) {
    const chiller = site.chillers.find((each) => each.id === id);
    if (chiller === undefined) {
      const message = `the site file has no chiller '${id}'; there are ${ids.join(', ')}`;
      issues.push(issue('config_value', ['chillers', id], message, { at: 'key', nearest: nearest(id, ids) }));
      continue;
    }
    for (const [name, entry] of Object.entries(points) as [string, string | TrendMapPoint][]) {
      const path: SitePath = ['chillers', id, 'points', name];
      const { column } = mapPoint(entry);
      const before = columns.get(column);
      // One outdoor sensor may serve every chiller of the site.
      if (before !== undefined && before.at(-1) !== name)
        issues.push(issue('config_value', path, `'${column}' is another point's column already`, { related: before }));
      columns.set(column, path);
      if (!chiller.points.some((each) => each.name === name)) {
        const message = `${id} has no such point in the site file, which says how sure it is: map it there too`;
        const known = chiller.points.map((each) => each.name);
        issues.push(issue('config_point_unknown', path, message, { at: 'key', nearest: nearest(name, known) }));
      }
    }
  }
  return issues;
}

/** How to take the readings of every mapped column. Call after `checkChillers` found nothing. */
export function trendPoints(map: TrendMapFile, site: Site, seen: ExportSeen): TrendPoints {
  const issues: SiteIssue[] = [];
  const notices: string[] = [];
  const chillers = Object.entries(map.chillers).flatMap(([id, { points }]) => {
    const chiller = site.chillers.find((each) => each.id === id);
    if (chiller === undefined) return [];
    const read = Object.entries(points).flatMap(([name, given]) => {
      const point = chiller.points.find((each) => each.name === name);
      if (point === undefined || given === undefined) return [];
      const path: SitePath = ['chillers', id, 'points', name];
      const entry = mapPoint(given);
      const found = trendPoint(point, entry, { map, site, seen, path });
      issues.push(...found.issues);
      notices.push(...found.notices.map((text) => `${id} ${name}: ${text}`));
      return found.point === null ? [] : [found.point];
    });
    return [{ chiller, points: read }];
  });
  return { chillers, issues, notices };
}

interface Around {
  readonly map: TrendMapFile;
  readonly site: Site;
  readonly seen: ExportSeen;
  readonly path: SitePath;
}

function trendPoint(
  point: SitePoint,
  entry: TrendMapPoint,
  { map, site, seen, path }: Around,
): { readonly point: TrendPoint | null; readonly issues: SiteIssue[]; readonly notices: string[] } {
  const none = (found: SiteIssue): ReturnType<typeof trendPoint> => ({ point: null, issues: [found], notices: [] });
  const { column } = entry;
  if (!seen.names.includes(column)) {
    const there = seen.names.slice(0, 12).join(', ') + (seen.names.length > 12 ? ', ...' : '');
    const message = `the export has no ${map.file.form === 'wide' ? 'column' : 'trend'} '${column}'; there are ${there}`;
    return none(issue('config_value', [...path, 'column'], message, { nearest: nearest(column, seen.names) }));
  }
  const unit = readUnit(point, entry, { seen, path });
  if (typeof unit !== 'string') return none(unit);
  const reference = readReference(point, entry, { unit, path });
  if (typeof reference !== 'string') return none(reference);
  const air = { local: site.barometer };
  const ends = point.valid.map((end) => readingFromSi(readingToSi(end, point, air), { unit, reference }, air));
  const step = seen.step_s ?? 0;
  const spec: PointSpec = {
    name: point.name,
    unit,
    reference,
    scale: entry.scale,
    offset: entry.offset,
    sentinels: [],
    valid: [Math.min(...ends), Math.max(...ends)],
    uncertainty: point.uncertainty,
    fast: point.fast,
    stale_s: entry.hold_s ?? map.hold_s ?? Math.max(point.stale_s, HOLD_STEPS * step),
    frozen_s: entry.frozen_s === undefined ? frozenAfter(point.frozen_s, step) : entry.frozen_s,
  };
  const states = entry.states === undefined ? null : lowerCase(entry.states);
  return { point: { column, spec, states }, issues: [], notices: contradiction(entry, unit, seen) };
}

function frozenAfter(frozen_s: number | null, step_s: number): number | null {
  return frozen_s === null ? null : Math.max(frozen_s, FROZEN_STEPS * step_s);
}

function lowerCase(states: Readonly<Record<string, number>>): Record<string, number> {
  return Object.fromEntries(Object.entries(states).map(([word, number]) => [word.trim().toLowerCase(), number]));
}

/** The word that the export has for a column's unit. */
function wordOf(column: string, seen: ExportSeen): string | null {
  return seen.units[column] ?? bracketed(column);
}

function readUnit(
  point: SitePoint,
  entry: TrendMapPoint,
  { seen, path }: Pick<Around, 'seen' | 'path'>,
): UnitName | SiteIssue {
  const { dimension, unit: own } = pointDefinition(point.name);
  const units = unitsFor(dimension);
  const use = `use ${units.join(', ')}`;
  const { unit: given } = entry;
  if (given !== undefined) {
    const found = units.find((each) => each === given);
    if (found !== undefined) return found;
    const message = `'${given}' is no unit of ${dimension.replaceAll('_', ' ')}: ${use}`;
    return issue('config_unit', [...path, 'unit'], message, { nearest: nearest(given, units) });
  }
  if (dimension === 'state' || dimension === 'count') return own;
  const word = wordOf(entry.column, seen);
  if (word === null)
    return issue('config_unit', [...path, 'unit'], `is missing, and the column '${entry.column}' names none: ${use}`);
  const found = unitOfWord(word, dimension);
  if (found !== null) return found;
  const why = dimension === 'pressure' ? ' (does it count from vacuum or from an atmosphere?)' : '';
  return issue(
    'config_unit',
    [...path, 'unit'],
    `is missing, and '${word}' of the column '${entry.column}' does not say it${why}: ${use}`,
  );
}

function readReference(
  point: SitePoint,
  { reference }: TrendMapPoint,
  { unit, path }: { readonly unit: UnitName; readonly path: SitePath },
): PressureReference | SiteIssue {
  const { dimension, gauge } = { gauge: false, ...unitOf(unit) };
  const at: SitePath = [...path, 'reference'];
  if (dimension !== 'pressure')
    return reference === undefined ? 'absolute' : issue('config_value', at, 'belongs to pressures alone: take it out');
  const isGauge = (each: PressureReference): boolean => each === 'vented_gauge' || each === 'sealed_gauge';
  if (reference === undefined) {
    if (!gauge) return 'absolute';
    if (isGauge(point.reference)) return point.reference;
    const message = `is missing: ${unit} counts from an atmosphere; say vented_gauge (local barometer) or sealed_gauge`;
    return issue('config_value', at, message);
  }
  if (gauge === isGauge(reference)) return reference;
  return issue(
    'config_value',
    at,
    `'${reference}' does not go with ${unit}: one counts from an atmosphere, one does not`,
  );
}

/** The map wins, and says so where the column says another unit. */
function contradiction({ unit: given, column }: TrendMapPoint, unit: UnitName, seen: ExportSeen): string[] {
  const word = wordOf(column, seen);
  if (given === undefined || word === null) return [];
  const said = unitOfWord(word, unitOf(unit).dimension);
  return said === null || said === unit
    ? []
    : [`the column '${column}' says ${said}, the map ${unit}: taken as ${unit}`];
}
