/**
 * A chiller's section of a site file by itself, for those who have points but no bus: it is held to the schema of the
 * site file, and may leave out source, points and id.
 */
import type { GivenChiller } from './given.ts';
import type { SiteIssue } from './issues.ts';
import { readSite } from './site.ts';

/** Stands in where no point is on a bus; the schema asks for one. */
const NO_BUS = {
  source: { modbus: { host: '127.0.0.1' } },
  points: { 'unit.power': { address: { unit: 1, table: 'holding', register: 0, type: 'uint16' }, unit: 'kW' } },
};

export type SectionResult =
  | { readonly ok: true; readonly value: GivenChiller }
  | { readonly ok: false; readonly fault: readonly SiteIssue[] };

/**
 * Reads one entry of `chillers` of a site file. `barometer` as people write it, such as '101.3 kPa'. Paths of the
 * issues count from the section; those of the barometer begin with `barometer`.
 */
export function readSection(value: unknown, barometer: string): SectionResult {
  const keys = typeof value === 'object' && value !== null && !Array.isArray(value) ? value : null;
  const onBus = keys !== null && ('points' in keys || 'source' in keys);
  const chiller = keys === null ? value : { id: 'chiller', ...(onBus ? {} : NO_BUS), ...keys };
  const read = readSite({
    version: 1,
    site: { id: 'section', name: 'section', time_zone: 'UTC', barometer },
    chillers: [chiller],
  });
  if (!read.ok) return { ok: false, fault: read.fault.map(within) };
  const [{ machine, points }] = read.value.chillers as [(typeof read.value.chillers)[number]];
  return { ok: true, value: { machine, points: onBus ? points : [], barometer: read.value.barometer } };
}

/** The path without the parts that were put round the section. */
function within(found: SiteIssue): SiteIssue {
  const cut = (path: SiteIssue['path']): SiteIssue['path'] =>
    path[0] === 'chillers' ? path.slice(2) : path[0] === 'site' ? path.slice(1) : path;
  return { ...found, path: cut(found.path), related: found.related === null ? null : cut(found.related) };
}
