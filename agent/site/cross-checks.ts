/**
 * What no schema sees: one key against another. Works on whatever could be read, so that one slip does not hide the
 * next: each part is parsed by its own schema, and parts that fail there are left to the schema's own messages.
 */
import { CONTROLLER_LOST, SENSOR_IMPLAUSIBLE } from '../alarms/builtin.ts';
import { type AlarmRule, alarmRule, compileRule, watchable } from '../alarms/rules.ts';
import { LIMITS } from '../base/limits.ts';
import { chillerParameters } from '../cycle/parameters.ts';
import { isPoint } from '../points/dictionary.ts';
import { REFRIGERANTS, refrigerant } from '../refrigerant/refrigerants.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import { MODBUS_TYPE_REGISTERS, type ModbusAddress, modbusSource } from './buses/modbus.ts';
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
  const source = modbusSource.safeParse(group(given['source'])['modbus']);
  const around: PointSurroundings = {
    ...air,
    refrigerant: fluid,
    polling: source.success ? source.data : null,
  };
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
    const entry = pointEntry.safeParse(group(given['points'])[name]);
    if (!entry.success) continue;
    const at = [...path, 'points', name];
    claims.push({ name, address: entry.data.address, path: at });
    const read = sitePoint(name, entry.data, around, at);
    issues.push(...read.issues);
    if (read.point !== null) points.push(read.point);
  }
  issues.push(...sharedRegisters(claims));
  return { points, alarms: checkAlarms(given['alarms'], [...path, 'alarms'], air, issues), refrigerant: fluid };
}

const BUILTIN_ALARMS: readonly string[] = [CONTROLLER_LOST.id, SENSOR_IMPLAUSIBLE.id];

function checkAlarms(given: unknown, path: SitePath, air: Air, issues: SiteIssue[]): AlarmRule[] {
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
    const compiled = compileRule(parsed.data, air);
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

interface Claim {
  readonly name: string;
  readonly address: ModbusAddress;
  readonly path: SitePath;
}

/** Two points whose registers overlap on one unit and table; different bits of one register are no overlap. */
function sharedRegisters(claims: readonly Claim[]): SiteIssue[] {
  return claims.flatMap((claim, index) => {
    const other = claims.slice(0, index).find((before) => overlap(before.address, claim.address));
    if (other === undefined) return [];
    const { table, register, unit } = claim.address;
    const place = `${table} ${register} of unit ${unit}`;
    const message = `${other.name} is read from ${place} already: give each point its own register`;
    return [
      issue('config_register_shared', [...claim.path, 'address'], message, { related: [...other.path, 'address'] }),
    ];
  });
}

function overlap(a: ModbusAddress, b: ModbusAddress): boolean {
  if (a.unit !== b.unit || a.table !== b.table) return false;
  const [bitA, bitB] = [bitOf(a), bitOf(b)];
  if (a.register === b.register && bitA !== null && bitB !== null) return bitA === bitB;
  return a.register < b.register + width(b) && b.register < a.register + width(a);
}

function bitOf(address: ModbusAddress): number | null {
  return 'bit' in address && address.bit !== undefined ? address.bit : null;
}

function width(address: ModbusAddress): number {
  return 'type' in address ? MODBUS_TYPE_REGISTERS[address.type] : 1;
}
