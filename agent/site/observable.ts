/**
 * What the points of a chiller can never give. An alarm on such a metric would be silent for ever and is refused;
 * every other such metric is published as missing, counted in a notice at the start and listed by `check`.
 */
import type { AlarmRule } from '../alarms/rules.ts';
import { SHIPPED, type ShippedAlarm } from '../alarms/shipped.ts';
import { BASELINE_METRICS } from '../baseline/metrics.ts';
import { arrangementOf } from '../cycle/arrangements/table.ts';
import type { Vessel } from '../cycle/arrangements/type.ts';
import { CYCLE_METRICS } from '../cycle/metrics/definitions.ts';
import type { ChillerParameters } from '../cycle/parameters.ts';
import { prepare } from '../cycle/solve.ts';
import type { Unobservable } from '../cycle/unobservable.ts';
import { RUNNING_METRICS } from '../points/running-metrics.ts';
import { VALVE_METRICS } from '../valves/metrics.ts';
import type { CheckedAlarms } from './alarms.ts';
import { issue, type SiteIssue, type SitePath } from './issues.ts';

/** What is asked of a site here. */
interface Observed {
  readonly chillers: readonly (Machine & { readonly id: string; readonly alarms: readonly AlarmRule[] })[];
}
interface Machine {
  readonly machine: ChillerParameters;
  readonly points: readonly { readonly name: string; readonly fast: boolean }[];
  /** Left out or null: no clean period is declared. */
  readonly baseline?: object | null | undefined;
}

const METRICS: ReadonlySet<string> = new Set(CYCLE_METRICS.map(({ name }) => name));
/** Given by any machine. */
const ALWAYS: ReadonlySet<string> = new Set(RUNNING_METRICS.map(({ name }) => name));
/** Metrics of the level loops, by name the level that each needs. */
const LEVELS: ReadonlyMap<string, string> = new Map(VALVE_METRICS.map(({ name, inputs }) => [name, inputs[0] ?? '']));

/** What each figure against a baseline is made of beside the baseline, by its name. */
const AGAINST: ReadonlyMap<string, readonly string[]> = new Map(
  BASELINE_METRICS.map(({ name }) => [name, beside(name)]),
);

/** The conductance of a clean bundle is taken over flow where there is one, over duty alone where not. */
function beside(metric: string): readonly string[] {
  const inputs = BASELINE_METRICS.find(({ name }) => name === metric)?.inputs;
  if (inputs === undefined) return metric.endsWith('_water.flow') ? [] : [metric];
  return inputs.flatMap(beside);
}

/** Metrics that the mapped points can never give, whatever the minute, each with the reason and what would give it. */
export function unobservable(chiller: Machine): readonly Unobservable[] {
  const solver = prepare(chiller.machine);
  return solver.ok ? solver.value.outOfReach(chiller.points.map(({ name }) => name)) : [];
}

/** Why a metric is out of reach, and the points that would give it where there are such. */
export function whyNever({ reason, enough }: Unobservable): string {
  if (enough.length === 0) return reason;
  const said = enough.flat().some((point) => reason === `${point} is not measured`);
  return said ? `it needs ${asked(enough)}` : `${reason}; it needs ${asked(enough)}`;
}

function asked(enough: Unobservable['enough']): string {
  const [only] = enough;
  if (enough.length === 1 && only !== undefined) return listed(only, 'and');
  return `one of ${listed(
    enough.map((set) => set.join(' and ')),
    'or',
  )}`;
}

/**
 * The alarms of a chiller that can rise. One that the site file asks for and that could never rise is an issue; a
 * shipped one that nobody asked for is left out.
 */
export function risingAlarms(
  chiller: Machine,
  { rules, entries }: CheckedAlarms,
  path: SitePath,
): { readonly alarms: readonly AlarmRule[]; readonly issues: readonly SiteIssue[] } {
  const why = whySilent(chiller);
  const issues: SiteIssue[] = [];
  const alarms = rules.filter(({ id, watch }) => {
    const silent = why(watch);
    const entry = entries.get(id);
    if (silent !== null && entry !== undefined) {
      const message = `this alarm could never rise: ${silent}`;
      issues.push(issue('config_metric_unobservable', [...path, entry, 'watch'], message));
    }
    return silent === null;
  });
  return { alarms, issues };
}

/** Why a name that an alarm watches never has a value; null where it may. */
function whySilent(chiller: Machine): (watch: string) => string | null {
  const never = new Map(unobservable(chiller).map((one) => [one.metric, one]));
  const mapped = new Map(chiller.points.map((point) => [point.name, point]));
  const why = (watch: string): string | null => {
    if (mapped.has(watch) || ALWAYS.has(watch)) return null;
    const part = lacking(chiller, watch);
    if (part !== null) return part;
    const against = AGAINST.get(watch);
    if (against !== undefined) {
      const silent = against.map(why).find((one) => one !== null);
      if (silent !== undefined) return silent;
      return (chiller.baseline ?? null) === null ? `${watch} needs a clean period; declare it as \`baseline\`` : null;
    }
    const metric = never.get(watch);
    if (metric !== undefined) return needs(metric);
    if (METRICS.has(watch)) return null;
    const level = LEVELS.get(watch);
    if (level === undefined) return `the point ${watch} is not mapped; map it`;
    if (mapped.get(level)?.fast === true) return null;
    return `the search for hunting needs ${level}, polled fast; map it with \`fast: true\``;
  };
  return why;
}

const TANKS: readonly (readonly [RegExp, Vessel, string])[] = [
  [/^(flash_tank|tank_valve)\./, 'flash_tank', 'this machine has no flash tank'],
  [/^(flash_tank|tank_valve)_2\./, 'flash_tank_2', 'this machine has no second flash tank'],
];

/** That the name is of a tank or its valve which the machine does not have; null where it is not. */
function lacking({ machine }: Machine, name: string): string | null {
  const { pools } = arrangementOf(machine).on.liquid;
  const [, , words] = TANKS.find(([of, tank]) => of.test(name) && pools.every(({ vessel }) => vessel !== tank)) ?? [];
  return words ?? null;
}

/** A shipped alarm that cannot rise on this machine as its site file stands. */
export interface Unarmed {
  readonly alarm: string;
  /** What it lacks and what would arm it. */
  readonly why: string;
  /** It waits for a limit of the site, or was switched off: nothing is missing of the machine's figures. */
  readonly by_choice: boolean;
}

/** Shipped alarms that are not armed, in the order of their table; none on a tank that the machine does not have. */
export function unarmedAlarms(chiller: Machine & { readonly alarms: readonly AlarmRule[] }): readonly Unarmed[] {
  const armed = new Set(chiller.alarms.map(({ id }) => id));
  const why = whySilent(chiller);
  const of = SHIPPED.filter(({ id, watch }) => !armed.has(id) && lacking(chiller, watch) === null);
  return of.map((alarm) => {
    const silent = why(alarm.watch);
    return { alarm: alarm.id, why: silent ?? choice(alarm), by_choice: silent === null };
  });
}

function choice({ needs: limit }: ShippedAlarm): string {
  if (limit === undefined) return 'switched off in the site file';
  return `give its limit '${limit.side}' under \`alarms\`: ${limit.from}`;
}

/** Baselines that no hour could ever be compared with. */
export function hollowBaselines(site: {
  readonly chillers: readonly (Machine & { readonly baseline: object | null })[];
}): SiteIssue[] {
  return site.chillers.flatMap((chiller, index) => {
    if (chiller.baseline === null) return [];
    return unobservable(chiller)
      .filter(({ metric }) => metric === 'unit.power' || metric === 'unit.capacity')
      .map((metric) => {
        const path = ['chillers', index, 'baseline'];
        return issue('config_metric_unobservable', path, `this baseline could never be fitted: ${needs(metric)}`);
      });
  });
}

/** A notice for each chiller that cannot give every metric, with the shipped alarms that this leaves unarmed. */
export function unobservableNotices(
  site: Observed,
): readonly { readonly code: SiteIssue['code']; readonly path: SitePath; readonly message: string }[] {
  return site.chillers.flatMap((chiller, index) => {
    const count = unobservable(chiller).length;
    const unarmed = unarmedAlarms(chiller).filter((one) => !one.by_choice);
    if (count + unarmed.length === 0) return [];
    const metrics = count === 1 ? '1 metric is' : `${count} metrics are`;
    const said = [
      ...(count === 0 ? [] : [`${metrics} published as missing, out of reach of these points`]),
      ...(unarmed.length === 0 ? [] : [`not armed: ${unarmed.map(({ alarm }) => alarm).join(', ')}`]),
    ];
    return {
      code: 'config_metric_unobservable' as const,
      path: ['chillers', index, 'points'],
      message: `${chiller.id}: ${said.join('; ')}; details: tonhour check`,
    };
  });
}

function needs({ metric, reason, enough }: Unobservable): string {
  if (enough.length === 0) return `${metric} is never given: ${reason}`;
  return `${metric} cannot be made from the mapped points; map ${asked(enough)}`;
}

/** Names in a sentence: a long list helps nobody. */
const LISTED_MAX = 6;

function listed(names: readonly string[], joint: 'and' | 'or'): string {
  const more = names.length - LISTED_MAX;
  if (more > 0) return `${names.slice(0, LISTED_MAX).join(', ')} ${joint} ${more} more`;
  return names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} ${joint} ${names.at(-1)}`;
}
