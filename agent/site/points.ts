/** What a site file says of one point, and the point made ready for the rest of the house. */
import { z } from 'zod';
import { unitsFor } from '../base/quantity.ts';
import type { Result } from '../base/result.ts';
import { isUnit, toSi, type UnitName, unitOf } from '../base/units.ts';
import { readingFromSi } from '../points/convert.ts';
import { type PointDefinition, type PointName, pointDefinition } from '../points/dictionary.ts';
import type { PointSpec, PressureReference } from '../points/types.ts';
import { addressEntry, type ChillerSource, type PointAddress, pollPeriod } from './addresses.ts';
import type { BacnetAddress, BacnetSource } from './buses/bacnet.ts';
import type { ModbusAddress, ModbusSource } from './buses/modbus.ts';
import { issue, type SiteIssue, type SitePath } from './issues.ts';
import { nearest } from './nearest.ts';
import { defaultSpan } from './spans.ts';
import { type Refusal, readDifference, readUncertainty, uncertaintyEntry } from './uncertainty.ts';

/** Seconds after which a value is no longer the present: fast points, others. */
const STALE_FAST_S = 60;
const STALE_S = 120;
/** And never before so many polls were missed. */
const POLLS_MISSED = 3;
/** A measured quantity of a running machine never stands bit by bit for an hour (common practice, no source). */
const FROZEN_S = 3600;
/** Dimensions that may stand for hours: states, counters, and levels, valves and set points that a controller holds. */
const MAY_STAND: ReadonlySet<string> = new Set(['state', 'count', 'time', 'fraction']);

export const pointEntry = z.strictObject({
  address: addressEntry.describe('where the value stands on the bus'),
  unit: z
    .string()
    .optional()
    .describe('unit of the value after scale and offset; only states and counts may leave it out'),
  scale: z
    .number()
    .refine((value) => value !== 0, 'must not be 0')
    .default(1)
    .describe('value = raw x scale + offset'),
  offset: z.number().default(0).describe('added after the scale, in the unit'),
  reference: z
    .enum(['absolute', 'vented_gauge', 'sealed_gauge', 'converted'])
    .optional()
    .describe(
      'pressures: what the transmitter counts from; vented_gauge takes the local barometer, ' +
        'sealed_gauge the standard atmosphere, converted: the controller made it absolute',
    ),
  sentinels: z.array(z.number()).max(16).default([]).describe('raw values that mean no measurement'),
  valid: z
    .tuple([z.number(), z.number()])
    .optional()
    .describe('lowest and highest believable value, in the unit; left out: the widest range of the point'),
  uncertainty: uncertaintyEntry
    .optional()
    .describe('standard uncertainty, k = 1: 0.1 K, 1 %, 0.5 % of span; left out: the common default of the point'),
  span: z
    .union([z.string(), z.number()])
    .optional()
    .describe('upper less lower end of the transmitter, such as 1000 kPa or 150 psig'),
  fast: z.boolean().default(false).describe('polled every few seconds, for levels and valves'),
  stale_s: z.number().gt(0).max(86_400).optional().describe('seconds after which the value is no longer the present'),
  frozen_s: z
    .number()
    .gt(0)
    .max(7 * 86_400)
    .nullable()
    .optional()
    .describe('seconds of bit-identical readings after which the point counts as frozen; null: never'),
});
/** With its place read. */
export type PointEntry = Omit<z.output<typeof pointEntry>, 'address'> & { readonly address: PointAddress };

/** A point with its place on the bus. Frozen. */
export interface SitePoint extends PointSpec {
  readonly address: PointAddress;
  /** Upper less lower end of the transmitter, SI; null where neither given nor needed. */
  readonly span: number | null;
}

/** A controller with the points that stand on it. */
export type SiteController =
  | { readonly bus: 'modbus'; readonly settings: ModbusSource; readonly points: readonly Placed<ModbusAddress>[] }
  | { readonly bus: 'bacnet'; readonly settings: BacnetSource; readonly points: readonly Placed<BacnetAddress>[] };
type Placed<Address> = SitePoint & { readonly address: Address };

/** A chiller's controller by its bus. */
export function controllerOf(chiller: {
  readonly source: ChillerSource;
  readonly points: readonly SitePoint[];
}): SiteController {
  const { source, points } = chiller;
  // The check of the site file holds every address to the bus of its source.
  if ('modbus' in source)
    return { bus: 'modbus', settings: source.modbus, points: points as readonly Placed<ModbusAddress>[] };
  return { bus: 'bacnet', settings: source.bacnet, points: points as readonly Placed<BacnetAddress>[] };
}

/** What a point needs to know of its site. */
export interface PointSurroundings {
  /** Pa absolute, and its standard uncertainty. */
  readonly barometer: number;
  readonly barometer_uncertainty: number;
  /** Null where the refrigerant is not known: its own issue says so. */
  readonly refrigerant: { readonly saturationPressure: (T: number) => Result<number> } | null;
  /** Periods of polling; null where the source could not be read. */
  readonly polling: { readonly poll_s: number; readonly fast_s: number } | null;
}

/** The point, or everything that is wrong with it. */
export function sitePoint(
  name: PointName,
  entry: PointEntry,
  around: PointSurroundings,
  path: SitePath,
): { readonly point: SitePoint | null; readonly issues: readonly SiteIssue[] } {
  const issues: SiteIssue[] = [];
  const definition = pointDefinition(name);
  const refuse = ({ key, message }: Refusal): null => {
    issues.push(issue('config_value', [...path, key], message));
    return null;
  };
  const unit = readUnit(entry, definition, path, issues);
  if (unit === null) return { point: null, issues };
  const reference = readReference(entry, definition, unit, refuse);
  const span = entry.span === undefined ? null : readDifference(entry.span, definition.dimension, 'span');
  if (span !== null && !span.ok) refuse(span);
  const given = span?.ok === true ? span.value : null;
  const usedSpan = given ?? standardSpan(name, definition, around);
  const uncertainty = readUncertainty(
    entry.uncertainty,
    definition,
    entry.uncertainty === undefined ? usedSpan : given,
  );
  if (!uncertainty.ok) refuse(uncertainty);
  const spec = { unit, reference: reference ?? 'absolute' } as const;
  const valid = readValid(entry, definition, spec, around, refuse);
  const period = pollPeriod(entry.address, entry.fast, around.polling);
  if (entry.stale_s !== undefined && entry.stale_s <= period)
    refuse({ key: 'stale_s', message: `must be longer than the ${period} s between two polls` });
  if (issues.length > 0 || !uncertainty.ok || valid === null || reference === null) return { point: null, issues };
  const { absolute, relative } = uncertainty.value;
  const point: SitePoint = {
    name,
    ...spec,
    scale: entry.scale,
    offset: entry.offset,
    sentinels: entry.sentinels,
    valid,
    uncertainty: { ...withBarometer(absolute, reference, around), relative },
    fast: entry.fast,
    stale_s: entry.stale_s ?? Math.max(entry.fast ? STALE_FAST_S : STALE_S, POLLS_MISSED * period),
    frozen_s: entry.frozen_s === undefined ? (MAY_STAND.has(definition.dimension) ? null : FROZEN_S) : entry.frozen_s,
    address: entry.address,
    span: usedSpan,
  };
  return { point, issues };
}

/** A vented transmitter inherits the doubt about the barometer; a sealed or absolute one does not. */
function withBarometer(
  absolute: number,
  reference: PressureReference,
  { barometer_uncertainty }: PointSurroundings,
): { readonly absolute: number; readonly barometer?: number } {
  if (reference !== 'vented_gauge' || barometer_uncertainty === 0) return { absolute };
  return { absolute: Math.hypot(absolute, barometer_uncertainty), barometer: barometer_uncertainty };
}

function readUnit(
  entry: PointEntry,
  definition: PointDefinition,
  path: SitePath,
  issues: SiteIssue[],
): UnitName | null {
  const { dimension } = definition;
  const allowed = unitsFor(dimension);
  const given = entry.unit ?? (dimension === 'state' || dimension === 'count' ? definition.unit : undefined);
  if (given !== undefined && isUnit(given) && unitOf(given).dimension === dimension) return given;
  const use = `use ${allowed.join(', ')}`;
  const measured = dimension.replaceAll('_', ' ');
  if (given === undefined) issues.push(issue('config_unit', [...path, 'unit'], `is missing: ${use}`));
  else if (isUnit(given))
    issues.push(issue('config_unit', [...path, 'unit'], `'${given}' does not measure ${measured}: ${use}`));
  else
    issues.push(
      issue('config_unit', [...path, 'unit'], `unknown unit '${given}': ${use}`, { nearest: nearest(given, allowed) }),
    );
  return null;
}

/**
 * Gauge or absolute is said twice, by the unit and by the reference: they must agree, or nobody knows what the
 * controller sends.
 */
function readReference(
  entry: PointEntry,
  definition: PointDefinition,
  unit: UnitName,
  refuse: (refusal: Refusal) => null,
): PressureReference | null {
  const { reference } = entry;
  if (definition.dimension !== 'pressure') {
    return reference === undefined
      ? 'absolute'
      : refuse({ key: 'reference', message: 'belongs to pressures alone: take it out' });
  }
  const gauge = unitOf(unit).gauge === true;
  if (reference === undefined) {
    if (!gauge) return 'absolute';
    return refuse({
      key: 'reference',
      message:
        `is missing: ${unit} counts from an atmosphere; ` +
        'say vented_gauge (local barometer) or sealed_gauge (standard atmosphere)',
    });
  }
  if (gauge === (reference === 'vented_gauge' || reference === 'sealed_gauge')) return reference;
  const others = unitsFor('pressure').filter((each) => (unitOf(each).gauge === true) !== gauge);
  const use = others.join(', ');
  return refuse({
    key: 'reference',
    message: gauge
      ? `'${reference}' is absolute but ${unit} counts from an atmosphere: use ${use}, or vented_gauge or sealed_gauge`
      : `'${reference}' counts from an atmosphere but ${unit} is absolute: use ${use}, or absolute or converted`,
  });
}

function readValid(
  entry: PointEntry,
  definition: PointDefinition,
  spec: Pick<PointSpec, 'unit' | 'reference'>,
  around: PointSurroundings,
  refuse: (refusal: Refusal) => null,
): readonly [number, number] | null {
  if (entry.valid !== undefined) {
    const [low, high] = entry.valid;
    if (low < high) return [low, high];
    return refuse({ key: 'valid', message: `the lower end ${low} must be below the upper end ${high}` });
  }
  const air = { local: around.barometer };
  const ends = [definition.low, definition.high].map((end) => readingFromSi(toSi(end, definition.unit), spec, air));
  return [Math.min(...ends), Math.max(...ends)];
}

function standardSpan(name: PointName, definition: PointDefinition, around: PointSurroundings): number | null {
  if (definition.dimension !== 'pressure' || around.refrigerant === null) return null;
  const span = defaultSpan(name.slice(0, name.indexOf('.')), around.refrigerant);
  return span.ok ? span.value : null;
}
