/**
 * What no schema sees: one key against another. Works on whatever could be read, so that one slip does not hide the next:
 * each part is parsed by its own schema, and parts that fail there are left to the schema's own messages.
 */
import { LIMITS } from '../base/limits.ts';
import { chillerParameters } from '../cycle/parameters.ts';
import { isPoint } from '../points/dictionary.ts';
import { REFRIGERANTS, type Refrigerant, refrigerant } from '../refrigerant/refrigerants.ts';
import { MODBUS_TYPE_REGISTERS, type ModbusAddress, modbusSource } from './buses/modbus.ts';
import { issue, type SiteIssue, type SitePath } from './issues.ts';
import { nearest } from './nearest.ts';
import { type PointSurroundings, pointEntry, type SitePoint, sitePoint } from './points.ts';

export interface CheckedChiller {
  readonly points: readonly SitePoint[];
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
  return { points, refrigerant: fluid };
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
    const message = `${other.name} is read from ${table} ${register} of unit ${unit} already: give each point its own register`;
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
