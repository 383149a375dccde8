/**
 * Alarms of one chiller: those that are shipped, changed or switched off by entries of their id, and those of the site
 * alone.
 */
import { BUILTIN } from '../alarms/builtin.ts';
import {
  type AlarmRule,
  alarmEntry,
  alarmRule,
  compileRule,
  type RuleSurroundings,
  watchable,
} from '../alarms/rules.ts';
import { SHIPPED, type ShippedAlarm } from '../alarms/shipped.ts';
import { LIMITS } from '../base/limits.ts';
import { fromZod, issue, type SiteIssue, type SitePath } from './issues.ts';
import { nearest } from './nearest.ts';

export interface CheckedAlarms {
  readonly rules: readonly AlarmRule[];
  /** Index of the entry of the site file, by id; a shipped alarm that the file does not name has none. */
  readonly entries: ReadonlyMap<string, number>;
}

const BUILTIN_IDS: readonly string[] = BUILTIN.map(({ id }) => id);

/** Issues are put into `issues`; entries that fail the schema of one are left to the schema's own messages. */
export function checkAlarms(
  given: unknown,
  path: SitePath,
  around: RuleSurroundings,
  issues: SiteIssue[],
): CheckedAlarms {
  const list = Array.isArray(given) ? (given as readonly unknown[]) : [];
  if (list.length + SHIPPED.length > LIMITS.alarms_per_chiller_max)
    issues.push(issue('config_value', path, `must have at most ${LIMITS.alarms_per_chiller_max} alarms`));
  const entries = new Map<string, number>();
  const rules = list.flatMap((each, index) => {
    const parsed = alarmEntry.safeParse(each);
    if (!parsed.success) return [];
    const { id } = parsed.data;
    issues.push(...idIssues(id, entries.get(id), [...path, index], path));
    if (!entries.has(id)) entries.set(id, index);
    return readEntry(each as Written, [...path, index], around, issues);
  });
  const untouched = SHIPPED.filter(({ id }) => !entries.has(id)).flatMap((one) => {
    const read = alarmRule.parse(written(one));
    const compiled = hasLimit(read) ? compileRule(read, around) : null;
    return compiled?.ok === true ? [compiled.value] : [];
  });
  return { rules: [...rules, ...untouched], entries };
}

interface Written {
  readonly [key: string]: unknown;
  readonly id: string;
}

function idIssues(id: string, before: number | undefined, at: SitePath, path: SitePath): SiteIssue[] {
  const issues: SiteIssue[] = [];
  if (BUILTIN_IDS.includes(id)) {
    const message = `every chiller has the alarm '${id}' already: give this one another id`;
    issues.push(issue('config_id_twice', [...at, 'id'], message));
  }
  if (before !== undefined) {
    const message = `'${id}' is the id of another alarm already: give each its own`;
    issues.push(issue('config_id_twice', [...at, 'id'], message, { related: [...path, before, 'id'] }));
  }
  return issues;
}

function readEntry(given: Written, at: SitePath, around: RuleSurroundings, issues: SiteIssue[]): AlarmRule[] {
  const shipped = SHIPPED.find(({ id }) => id === given.id);
  const found = [...switchIssues(given, shipped, at)];
  issues.push(...found);
  if (found.length > 0 || given['enabled'] === false) return [];
  const { enabled: _, ...entry } = given;
  // The side of a limit is one choice: a site that gives the other one means it instead.
  const { above, below, ...rest } = shipped === undefined ? ({} as Partial<Written>) : written(shipped);
  const limit = given['above'] !== undefined || given['below'] !== undefined ? {} : { above, below };
  const parsed = alarmRule.safeParse({ ...rest, ...limit, ...entry }, { reportInput: true });
  if (!parsed.success) {
    issues.push(...fromZod(alarmRule, parsed.error, at));
    return [];
  }
  if (shipped?.needs !== undefined && !hasLimit(parsed.data)) {
    const { side, from } = shipped.needs;
    issues.push(issue('alarm_rule', at, `give '${side}': ${from}`));
    return [];
  }
  const compiled = compileRule(parsed.data, around);
  if (compiled.ok) return [compiled.value];
  // The fault begins with the key that it speaks of, where it speaks of one.
  const [, key = null, message] = /^(?:(watch|above|below|deadband): )?(.*)$/s.exec(compiled.fault.message) ?? [];
  const meant = key === 'watch' ? nearest(parsed.data.watch, watchable()) : null;
  const where = key === null ? at : [...at, key];
  issues.push(issue('alarm_rule', where, message ?? compiled.fault.message, { nearest: meant }));
  return [];
}

/** What may not be switched off, and what cannot. */
function switchIssues(given: Written, shipped: ShippedAlarm | undefined, at: SitePath): SiteIssue[] {
  const off = given['enabled'] === false;
  if (off && shipped === undefined) {
    const ids = SHIPPED.map(({ id }) => id);
    const message = 'only a shipped alarm can be switched off (config/alarms.md lists them); take this entry out';
    return [issue('alarm_rule', [...at, 'enabled'], message, { nearest: nearest(given.id, ids) })];
  }
  if (shipped?.protected !== true) return [];
  if (off) {
    const message = `${given.id} is never switched off; where it cannot work, give 'out_of_service' with the reason`;
    return [issue('alarm_rule', [...at, 'enabled'], message)];
  }
  if (given['protected'] !== false) return [];
  return [
    issue(
      'alarm_rule',
      [...at, 'protected'],
      `${given.id} is never shelved: freeze, oil and refrigerant alarms stay visible`,
    ),
  ];
}

/** A shipped alarm as an entry of the site file. */
function written({ reason: _, needs: __, ...entry }: ShippedAlarm): Written {
  return entry;
}

function hasLimit({ above, below }: { readonly above?: unknown; readonly below?: unknown }): boolean {
  return above !== undefined || below !== undefined;
}
