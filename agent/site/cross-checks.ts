/**
 * What no schema sees: one key against another. Works on whatever could be read, so that one slip does not hide the
 * next: each part is parsed by its own schema, and parts that fail there are left to the schema's own messages.
 */
import { CONTROLLER_LOST, SENSOR_IMPLAUSIBLE } from '../alarms/builtin.ts';
import { type AlarmRule, alarmRule, compileRule, type RuleSurroundings, watchable } from '../alarms/rules.ts';
import { LIMITS } from '../base/limits.ts';
import { chillerParameters } from '../cycle/parameters.ts';
import { isPoint } from '../points/dictionary.ts';
import { REFRIGERANTS, refrigerant } from '../refrigerant/refrigerants.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import { baselineIssues } from './baseline.ts';
import { addressEntry, busOf, type Claim, readAddress, sharedPlaces } from './addresses.ts';
import { issue, type SiteIssue, type SitePath } from './issues.ts';
import { nearest } from './nearest.ts';
import { type PointSurroundings, pointEntry, type SitePoint, sitePoint } from './points.ts';

export interface CheckedChiller {
  readonly points: readonly SitePoint[];
  readonly alarms: readonly AlarmRule[];
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

const BUILTIN_ALARMS: readonly string[] = [CONTROLLER_LOST.id, SENSOR_IMPLAUSIBLE.id];

function checkAlarms(given: unknown, path: SitePath, surroundings: RuleSurroundings, issues: SiteIssue[]): AlarmRule[] {
  if (!Array.isArray(given)) return [];
  if (given.length > LIMITS.alarms_per_chiller_max)
    issues.push(issue('config_value', path, `must have at most ${LIMITS.alarms_per_chiller_max} alarms`));
  const first = new Map<string, number>();
  return given.flatMap((each: unknown, index): AlarmRule[] => {
    const parsed = alarmRule.safeParse(each);
    if (!parsed.success) return [];
    const { id, watch } = parsed.data;
    const before = first.get(id);
    if (BUILTIN_ALARMS.includes(id)) {
      const message = `every chiller has the alarm '${id}' already: give this one another id`;
      issues.push(issue('config_id_twice', [...path, index, 'id'], message));
    }
    if (before !== undefined) {
      const related = [...path, before, 'id'];
      const message = `'${id}' is the id of another alarm already: give each its own`;
      issues.push(issue('config_id_twice', [...path, index, 'id'], message, { related }));
    } else first.set(id, index);
    const compiled = compileRule(parsed.data, surroundings);
    if (compiled.ok) return [compiled.value];
    // The fault begins with the key that it speaks of, where it speaks of one.
    const [, key = null, message] = /^(?:(watch|above|below|deadband): )?(.*)$/s.exec(compiled.fault.message) ?? [];
    const meant = key === 'watch' ? nearest(watch, watchable()) : null;
    const at = key === null ? [...path, index] : [...path, index, key];
    issues.push(issue('alarm_rule', at, message ?? compiled.fault.message, { nearest: meant }));
    return [];
  });
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
