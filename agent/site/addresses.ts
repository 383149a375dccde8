/**
 * Two buses, one site file: which of them a chiller's source is, and a point's place on it. What a place must look like
 * follows from the source, so it is read here and not by the schema of the point, whose messages would guess.
 */
import { z } from 'zod';
import { LIMITS } from '../base/limits.ts';
import { type BacnetAddress, type BacnetSource, bacnetAddress, bacnetSource } from './buses/bacnet.ts';
import {
  MODBUS_TYPE_REGISTERS,
  type ModbusAddress,
  type ModbusSource,
  modbusAddress,
  modbusSource,
} from './buses/modbus.ts';
import { fromZod, issue, type SiteIssue, type SitePath } from './issues.ts';

export const BUSES = ['modbus', 'bacnet'] as const;
export type Bus = (typeof BUSES)[number];

/** How a chiller's controller is reached: over one bus. */
export type ChillerSource = { readonly modbus: ModbusSource } | { readonly bacnet: BacnetSource };
/** Where a point stands: of the kind of its chiller's source. */
export type PointAddress = ModbusAddress | BacnetAddress;

export const sourceEntry = z
  .strictObject({
    modbus: modbusSource.optional().describe('a controller or gateway that answers Modbus TCP'),
    bacnet: bacnetSource.optional().describe('a controller that answers BACnet/IP'),
  })
  .superRefine((given, context) => {
    const buses = BUSES.filter((bus) => given[bus] !== undefined).length;
    if (buses === 1) return;
    const code = buses === 0 ? 'config_key_missing' : 'config_value';
    context.addIssue({ code: 'custom', message: 'give exactly one of modbus and bacnet', params: { code } });
  });

/** Any group of keys: `readAddress` reads it. */
export const addressEntry = z.record(z.string(), z.unknown());
/** What editors are told of it. */
export const anyAddress = z.union([modbusAddress, bacnetAddress]);

export function isBacnetAddress(address: PointAddress): address is BacnetAddress {
  return 'object' in address;
}

/** The source of a checked entry. */
export function chillerSource(entry: z.output<typeof sourceEntry>): ChillerSource {
  const { modbus, bacnet } = entry;
  if (modbus !== undefined) return { modbus };
  if (bacnet !== undefined) return { bacnet };
  throw new Error('a checked source has a bus');
}

/** The bus that a file names, and its periods of polling; null as far as that cannot be read. */
export function busOf(source: Readonly<Record<string, unknown>>): {
  readonly bus: Bus | null;
  readonly polling: { readonly poll_s: number; readonly fast_s: number } | null;
} {
  const named = BUSES.filter((bus) => source[bus] !== undefined);
  const [bus] = named;
  if (bus === undefined || named.length > 1) return { bus: null, polling: null };
  const read = (bus === 'modbus' ? modbusSource : bacnetSource).safeParse(source[bus]);
  return { bus, polling: read.success ? read.data : null };
}

/** The address, or what is wrong with it. Without a readable source the keys of the address tell its bus. */
export function readAddress(
  given: Readonly<Record<string, unknown>>,
  bus: Bus | null,
  path: SitePath,
): { readonly address: PointAddress | null; readonly issues: readonly SiteIssue[] } {
  const looksLike: Bus = 'object' in given ? 'bacnet' : 'modbus';
  const kind = bus ?? looksLike;
  const foreign = kind === 'bacnet' ? 'table' in given || 'register' in given : 'object' in given;
  if (foreign && kind !== looksLike) {
    const write = kind === 'bacnet' ? '{ object: analog-input:3 }' : '{ table: holding, register: 10 }';
    const message = `is a place on ${WORDS[looksLike]} but the source is ${WORDS[kind]}: write one such as ${write}`;
    return { address: null, issues: [issue('config_value', path, message)] };
  }
  const schema = kind === 'bacnet' ? bacnetAddress : modbusAddress;
  const read = schema.safeParse(given, { reportInput: true });
  if (read.success) return { address: read.data, issues: [] };
  return { address: null, issues: fromZod(schema, read.error, path) };
}

const WORDS: Readonly<Record<Bus, string>> = { modbus: 'Modbus', bacnet: 'BACnet' };

/** Seconds between two readings of a point. */
export function pollPeriod(
  address: PointAddress,
  fast: boolean,
  polling: { readonly poll_s: number; readonly fast_s: number } | null,
): number {
  if (isBacnetAddress(address) && address.cov) return LIMITS.bacnet_cov_poll_s;
  return (fast ? polling?.fast_s : polling?.poll_s) ?? 0;
}

export interface Claim {
  readonly name: string;
  readonly address: PointAddress;
  readonly path: SitePath;
}

/**
 * Two points on one place: registers that overlap on one unit and table, or one property of one object. Different bits
 * of one register are no overlap.
 */
export function sharedPlaces(claims: readonly Claim[]): SiteIssue[] {
  return claims.flatMap((claim, index) => {
    const other = claims.slice(0, index).find((before) => overlap(before.address, claim.address));
    if (other === undefined) return [];
    const own = isBacnetAddress(claim.address) ? 'object' : 'register';
    const message = `${other.name} is read from ${placeOf(claim.address)} already: give each point its own ${own}`;
    return [
      issue('config_register_shared', [...claim.path, 'address'], message, { related: [...other.path, 'address'] }),
    ];
  });
}

/** `holding 10 of unit 1`, `analog-input:3` */
export function placeOf(address: PointAddress): string {
  if (isBacnetAddress(address))
    return address.property === 'present-value' ? address.object : `${address.object} ${address.property}`;
  return `${address.table} ${address.register} of unit ${address.unit}`;
}

function overlap(a: PointAddress, b: PointAddress): boolean {
  if (isBacnetAddress(a) || isBacnetAddress(b))
    return isBacnetAddress(a) && isBacnetAddress(b) && a.object === b.object && a.property === b.property;
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
