/** What a site is, read from plain values and frozen. Knows no file and no YAML: the config room does. */
import type { AlarmRule } from '../alarms/rules.ts';
import type { ChillerParameters } from '../cycle/parameters.ts';
import type { RunningRule } from '../points/running.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import { type ChillerSource, chillerSource } from './addresses.ts';
import type { BaselineEntry } from './baseline.ts';
import { type CheckedChiller, crossCheck, group } from './cross-checks.ts';
import { type SiteInflux, siteInflux } from './influx.ts';
import { fromZod, issue, type SiteIssue } from './issues.ts';
import { type SiteMail, siteMail } from './mail.ts';
import { type SiteNodeRed, siteNodeRed } from './node-red.ts';
import { hollowBaselines, risingAlarms } from './observable.ts';
import type { SitePoint } from './points.ts';
import { SITE_VERSION, type SiteFile, siteSchema } from './schema.ts';
import { Secret } from './secret.ts';

export interface SiteMqtt {
  readonly url: string;
  readonly prefix: string;
  readonly username: string | null;
  readonly password: Secret | null;
  /** PEM; null: the public authorities. */
  readonly ca: Secret | null;
  readonly client_id: string;
  /** Whether commands to alarms are heard there. */
  readonly commands: boolean;
}

/** One machine. `points` stand on the bus of `source`. */
export interface ChillerSite {
  readonly id: string;
  readonly name: string;
  readonly machine: ChillerParameters;
  readonly running: RunningRule;
  readonly source: ChillerSource;
  readonly points: readonly SitePoint[];
  /** Pa absolute, lower and upper end of the diagram. */
  readonly pressure_window: readonly [number, number];
  /** Limits to watch, compiled to catalogue units. */
  readonly alarms: readonly AlarmRule[];
  /** Local days of a clean machine; null: none declared. */
  readonly baseline: BaselineEntry | null;
}

/** SI throughout. Deeply frozen. */
export interface Site {
  readonly version: number;
  readonly id: string;
  readonly name: string;
  readonly time_zone: string;
  readonly unit_system: 'ip' | 'si';
  /** Pa absolute, and its standard uncertainty (k = 1). */
  readonly barometer: number;
  readonly barometer_uncertainty: number;
  readonly interval_s: number;
  /** Null: metrics go nowhere. */
  readonly mqtt: SiteMqtt | null;
  /** Null: there is no time-series store. */
  readonly influx: SiteInflux | null;
  /** Null: nobody is written to. */
  readonly mail: SiteMail | null;
  /** Null: none is hosted. */
  readonly node_red: SiteNodeRed | null;
  readonly history: { readonly folder: string };
  /** `commands` left out: the page takes commands to alarms on loopback alone. */
  readonly web: {
    readonly host: string;
    readonly port: number;
    /** Beside its address and `host`. */
    readonly names?: readonly string[] | undefined;
    readonly commands?: boolean | undefined;
  };
  /** Null: no money is shown. */
  readonly tariff: { readonly price_per_kwh: number; readonly currency: string } | null;
  readonly chillers: readonly ChillerSite[];
}

export type SiteResult =
  | { readonly ok: true; readonly value: Site }
  | { readonly ok: false; readonly fault: readonly SiteIssue[] };

/** Saturation temperatures (K) at the ends of the diagram's pressure window where the site gives none. */
const WINDOW_TEMPERATURES = [268.15, 323.15] as const;

/** The site, or everything that is wrong with it, in the order of the schema. Never throws. */
export function readSite(value: unknown): SiteResult {
  const version = versionIssue(value);
  if (version !== null) return { ok: false, fault: [version] };
  const parsed = siteSchema.safeParse(value, { reportInput: true });
  const air = readAir(value);
  const crossed = crossCheck(group(value)['chillers'], air);
  const issues = [...(parsed.success ? [] : fromZod(siteSchema, parsed.error).map(ofPoint)), ...crossed.issues];
  if (!parsed.success || issues.length > 0) return { ok: false, fault: issues };
  const silent: SiteIssue[] = [];
  const site = freezeDeep(assemble(parsed.data, air, crossed.chillers, silent));
  silent.push(...hollowBaselines(site));
  return silent.length > 0 ? { ok: false, fault: silent } : { ok: true, value: site };
}

function versionIssue(value: unknown): SiteIssue | null {
  if (typeof value !== 'object' || value === null || Array.isArray(value))
    return issue('config_value', [], 'is not a group of keys: begin with `version: 1`');
  const { version } = value as { version?: unknown };
  if (version === undefined)
    return issue('config_version', ['version'], 'is missing: begin the file with `version: 1`');
  if (version === SITE_VERSION) return null;
  if (typeof version === 'number' && Number.isInteger(version) && version > SITE_VERSION)
    return issue(
      'config_version',
      ['version'],
      `the file is version ${version}, this agent reads up to ${SITE_VERSION}: update the agent`,
    );
  return issue(
    'config_version',
    ['version'],
    `there is no version ${String(version)}: write \`version: ${SITE_VERSION}\``,
  );
}

/** An unknown key under `points` is an unknown point. */
function ofPoint(found: SiteIssue): SiteIssue {
  const isPoint = found.code === 'config_key_unknown' && found.path.length === 4 && found.path[2] === 'points';
  if (!isPoint) return found;
  const action = found.nearest === null ? 'take a name from config/template.yaml' : 'correct it';
  return { ...found, code: 'config_point_unknown', message: `unknown point; ${action}` };
}

type Air = Pick<Site, 'barometer' | 'barometer_uncertainty'>;

/** As far as it can be read: the rest of the file is checked even where this part is wrong. */
function readAir(value: unknown): Air {
  const parsed = siteSchema.shape.site.safeParse(group(value)['site']);
  if (!parsed.success) return { barometer: 101_325, barometer_uncertainty: 1000 };
  const { barometer, altitude, barometer_uncertainty } = parsed.data;
  return { barometer: barometer ?? standardPressure(altitude ?? 0), barometer_uncertainty };
}

/**
 * Mean barometric pressure, Pa, at a height in m: International Standard Atmosphere, troposphere (ISO 2533; constants
 * from memory: 288.15 K, 6.5 K/km, exponent 5.25588).
 */
export function standardPressure(height: number): number {
  return 101_325 * (1 - (0.0065 * height) / 288.15) ** 5.25588;
}

function assemble(file: SiteFile, air: Air, checked: readonly CheckedChiller[], issues: SiteIssue[]): Site {
  return {
    version: file.version,
    id: file.site.id,
    name: file.site.name,
    time_zone: file.site.time_zone,
    unit_system: file.site.unit_system,
    ...air,
    interval_s: file.interval_s,
    mqtt: file.mqtt === undefined ? null : assembleMqtt(file.mqtt, file.site.id),
    influx: file.influx === undefined ? null : siteInflux(file.influx),
    mail: file.mail === undefined ? null : siteMail(file.mail),
    node_red: file.node_red === undefined ? null : siteNodeRed(file.node_red),
    history: file.history,
    web: file.web,
    tariff: file.tariff ?? null,
    chillers: file.chillers.map((chiller, index) => {
      const { points, refrigerant, ...rest } = checked[index] as CheckedChiller;
      const rising = risingAlarms({ ...chiller, points }, rest.alarms, ['chillers', index, 'alarms']);
      issues.push(...rising.issues);
      return {
        id: chiller.id,
        name: chiller.name ?? chiller.id,
        machine: chiller.machine,
        running: chiller.running,
        source: chillerSource(chiller.source),
        points,
        pressure_window: chiller.pressure_window ?? defaultWindow(refrigerant as Refrigerant),
        alarms: rising.alarms,
        baseline: chiller.baseline ?? null,
      };
    }),
  };
}

function assembleMqtt(given: NonNullable<SiteFile['mqtt']>, site: string): SiteMqtt {
  return {
    url: given.url,
    prefix: given.prefix,
    username: given.username ?? null,
    password: given.password ?? null,
    ca: given.ca ?? null,
    client_id: given.client_id ?? `${given.prefix.replaceAll('/', '-')}-${site}`,
    commands: given.commands,
  };
}

function defaultWindow(refrigerant: Refrigerant): readonly [number, number] {
  const [low, high] = WINDOW_TEMPERATURES.map((T) => refrigerant.saturationPressure(T));
  if (!low?.ok || !high?.ok) throw new Error(`${refrigerant.name} has no saturation pressure at -5 and 50 degC`);
  return [low.value, high.value];
}

function freezeDeep<T>(value: T): T {
  if (typeof value !== 'object' || value === null || Object.isFrozen(value)) return value;
  if (!(value instanceof Secret)) for (const each of Object.values(value)) freezeDeep(each);
  return Object.freeze(value);
}

/** Where a controller is found. */
export interface Place {
  readonly host: string;
  readonly port: number;
}

/**
 * The same site with one chiller's controller elsewhere: for a demo whose plant takes any free port. A chiller that is
 * unknown or on another bus: unchanged.
 */
export function withModbusAddress(site: Site, chiller: string, at: Place): Site {
  return withSource(site, chiller, (source) => ('modbus' in source ? { modbus: { ...source.modbus, ...at } } : source));
}

/** As `withModbusAddress`; nothing is searched for then, so any free port of this machine will do. */
export function withBacnetAddress(site: Site, chiller: string, { host, port }: Place): Site {
  return withSource(site, chiller, (source) => {
    if (!('bacnet' in source)) return source;
    const { broadcast: _, foreign: __, network: ___, ...rest } = source.bacnet;
    return { bacnet: { ...rest, address: `${host}:${port}`, port: 0 } };
  });
}

function withSource(site: Site, chiller: string, change: (source: ChillerSource) => ChillerSource): Site {
  const chillers = site.chillers.map((each) => (each.id === chiller ? { ...each, source: change(each.source) } : each));
  return freezeDeep({ ...site, chillers });
}

/** The same site with its history, broker, store or page elsewhere. */
export function withPlaces(
  site: Site,
  places: Partial<Pick<Site, 'history' | 'web' | 'mqtt' | 'influx' | 'interval_s'>>,
): Site {
  return freezeDeep({ ...site, ...places });
}
