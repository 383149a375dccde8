/**
 * What the points of a chiller can never give. An alarm on such a metric would be silent for ever and is refused;
 * every other such metric is published as missing, and said once as a notice.
 */
import { CYCLE_METRICS } from '../cycle/metrics/definitions.ts';
import type { ChillerParameters } from '../cycle/parameters.ts';
import { prepare } from '../cycle/solve.ts';
import { isPoint } from '../points/dictionary.ts';
import type { PointValue } from '../points/types.ts';
import { issue, type SiteIssue, type SitePath } from './issues.ts';

/** What is asked of a site here. */
interface Observed {
  readonly chillers: readonly (Machine & { readonly alarms: readonly { readonly watch: string }[] })[];
}
interface Machine {
  readonly machine: ChillerParameters;
  readonly points: readonly { readonly name: string }[];
}

const INPUTS: ReadonlyMap<string, readonly string[]> = new Map(CYCLE_METRICS.map(({ name, inputs }) => [name, inputs]));

/** Metrics that the mapped points can never give, whatever the minute. */
export function unobservable(chiller: Machine): readonly string[] {
  const solver = prepare(chiller.machine);
  if (!solver.ok) return [];
  const unread: PointValue = {
    value: null,
    u: null,
    quality: 'bad',
    reason: 'never read',
    age_s: null,
    spread: null,
    n: 0,
  };
  const points = Object.fromEntries(chiller.points.map(({ name }) => [name, unread]));
  return solver.value.solve({ time: 0, points }).unobservable;
}

/** Points from which the metric could be made and that are not mapped, through whatever metrics lie between. */
export function pointsMissing(metric: string, mapped: ReadonlySet<string>): readonly string[] {
  const missing = new Set<string>();
  const seen = new Set<string>();
  const follow = (name: string): void => {
    if (seen.has(name) || mapped.has(name)) return;
    seen.add(name);
    if (isPoint(name)) missing.add(name);
    for (const input of INPUTS.get(name) ?? []) follow(input);
  };
  follow(metric);
  return [...missing];
}

/** Alarms that could never rise. */
export function silentAlarms(site: Observed): SiteIssue[] {
  return site.chillers.flatMap((chiller, index) => {
    if (chiller.alarms.length === 0) return [];
    const never = new Set(unobservable(chiller));
    const mapped = new Set(chiller.points.map(({ name }) => name));
    return chiller.alarms.flatMap(({ watch }, alarm) => {
      const silent = INPUTS.has(watch) ? never.has(watch) && !mapped.has(watch) : !mapped.has(watch);
      if (!silent) return [];
      const path = ['chillers', index, 'alarms', alarm, 'watch'];
      return [issue('config_metric_unobservable', path, `this alarm could never rise: ${needs(watch, mapped)}`)];
    });
  });
}

/**
 * A notice for each metric out of reach, with what it directly needs: where that is a metric, it has a notice of its
 * own.
 */
export function unobservableNotices(
  site: Observed,
): readonly { readonly code: SiteIssue['code']; readonly path: SitePath; readonly message: string }[] {
  return site.chillers.flatMap((chiller, index) => {
    const mapped = new Set(chiller.points.map(({ name }) => name));
    const never = unobservable(chiller);
    return never.map((metric) => {
      const direct = (INPUTS.get(metric) ?? []).filter(
        (name) => !mapped.has(name) && (never.includes(name) || !INPUTS.has(name)),
      );
      const why = direct.length === 0 ? 'neither arrangement nor points give it' : `it needs ${listed(direct)}`;
      return {
        code: 'config_metric_unobservable' as const,
        path: ['chillers', index, 'points'],
        message: `${metric} is published as missing: ${why}`,
      };
    });
  });
}

function needs(name: string, mapped: ReadonlySet<string>): string {
  if (!INPUTS.has(name)) return `the point ${name} is not mapped; map it`;
  const missing = pointsMissing(name, mapped);
  if (missing.length === 0) return `${name} cannot be made by this arrangement and these points`;
  const map = missing.length === 1 ? 'map' : 'map enough of';
  return `${name} cannot be made from the mapped points; ${map} ${listed(missing)}`;
}

/** Names in a sentence: a long list helps nobody. */
const LISTED_MAX = 6;

function listed(names: readonly string[]): string {
  const more = names.length - LISTED_MAX;
  return `${names.slice(0, LISTED_MAX).join(', ')}${more > 0 ? ` and ${more} more` : ''}`;
}
