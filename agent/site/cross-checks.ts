/**
 * What no schema sees: one key against another. Works on whatever could be read, so that one slip does not hide the
 * next: each part is parsed by its own schema, and parts that fail there are left to the schema's own messages.
 */
import { LIMITS } from '../base/limits.ts';
import { chillerParameters } from '../cycle/parameters.ts';
import { isPoint } from '../points/dictionary.ts';
import { REFRIGERANTS, refrigerant } from '../refrigerant/refrigerants.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import { addressEntry, busOf, type Claim, readAddress, sharedPlaces } from './addresses.ts';
import { type CheckedAlarms, checkAlarms } from './alarms.ts';
import { baselineIssues } from './baseline.ts';
import { issue, type SiteIssue, type SitePath } from './issues.ts';
import { machineIssues } from './machine.ts';
import { nearest } from './nearest.ts';
import { type PointSurroundings, pointEntry, type SitePoint, sitePoint } from './points.ts';

export interface CheckedChiller {
  readonly points: readonly SitePoint[];
  readonly alarms: CheckedAlarms;
  readonly refrigerant: Refrigerant | null;
}

export interface CrossChecked {
  readonly chillers: readonly CheckedChiller[];
  readonly issues: readonly SiteIssue[];
}

type Air = Pick<PointSurroundings, 'barometer' | 'barometer_uncertainty'>;

export function crossCheck(chillers: unknown, air: Air): CrossChecked {
  if (!Array.isArray(chillers)) return { chillers: [], issues: [] };
  const issues: SiteIssue[] = duplicateIds(chillers);
  const checked = chillers.map((each: unknown, index) => checkChiller(group(each), ['chillers', index], air, issues));
  return { chillers: checked, issues };
}

/** A YAML mapping as a plain group of keys; anything else has none. */
export function group(value: unknown): Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Record<string, unknown>) : {};
}

function duplicateIds(chillers: readonly unknown[]): SiteIssue[] {
  const first = new Map<string, number>();
  return chillers.flatMap((each, index) => {
    const { id } = group(each);
    if (typeof id !== 'string') return [];
    const before = first.get(id.toLowerCase());
    if (before === undefined) {
      first.set(id.toLowerCase(), index);
      return [];
    }
    const message = `'${id}' is the id of another chiller already: give each its own`;
    return [issue('config_id_twice', ['chillers', index, 'id'], message, { related: ['chillers', before, 'id'] })];
  });
}

function checkChiller(
  given: Readonly<Record<string, unknown>>,
  path: SitePath,
  air: Air,
  issues: SiteIssue[],
): CheckedChiller {
  const fluid = readRefrigerant(given['machine'], path, issues);
  const { bus, polling } = busOf(group(given['source']));
  const around: PointSurroundings = { ...air, refrigerant: fluid, polling };
  const names = Object.keys(group(given['points']));
  if (names.length === 0 && given['points'] !== undefined)
    issues.push(issue('config_value', [...path, 'points'], 'must have at least one point'));
  if (names.length > LIMITS.points_per_chiller_max)
    issues.push(
      issue('config_value', [...path, 'points'], `must have at most ${LIMITS.points_per_chiller_max} points`),
    );
  const points: SitePoint[] = [];
  const claims: Claim[] = [];
  for (const name of names.filter(isPoint)) {
    const written = group(given['points'])[name];
    const at = [...path, 'points', name];
    const place = addressEntry.safeParse(group(written)['address']);
    // What is no group of keys at all is the schema's to tell.
    const found = place.success ? readAddress(place.data, bus, [...at, 'address']) : null;
    if (found !== null) issues.push(...found.issues);
    const address = found?.address ?? null;
    const entry = pointEntry.safeParse(written);
    if (!entry.success || address === null) continue;
    claims.push({ name, address, path: at });
    const read = sitePoint(name, { ...entry.data, address }, around, at);
    issues.push(...read.issues);
    if (read.point !== null) points.push(read.point);
  }
  issues.push(...machineIssues(given['machine'], { path, points: points.map(({ name }) => name) }));
  issues.push(...baselineIssues(given['baseline'], { path: [...path, 'baseline'], points }));
  issues.push(...sharedPlaces(claims));
  const references = new Map(points.map(({ name, reference }) => [name, reference]));
  const surroundings = { barometer: air.barometer, references };
  return {
    points,
    alarms: checkAlarms(given['alarms'], [...path, 'alarms'], surroundings, issues),
    refrigerant: fluid,
  };
}

function readRefrigerant(machine: unknown, path: SitePath, issues: SiteIssue[]): Refrigerant | null {
  const name = chillerParameters.shape.refrigerant.safeParse(group(machine)['refrigerant']);
  if (!name.success) return null;
  const found = refrigerant(name.data);
  if (found.ok) return found.value;
  const at = [...path, 'machine', 'refrigerant'];
  issues.push(issue('config_value', at, found.fault.message, { nearest: nearest(name.data, REFRIGERANTS) }));
  return null;
}
