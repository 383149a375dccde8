/** Judges every alarm of one chiller for one interval. Pure: state in, state and events out. */
import type { Figure } from '../base/metric.ts';
import { rfc3339 } from '../base/time.ts';
import { UNITS, type UnitName } from '../base/units.ts';
import type { LinkState } from '../points/types.ts';
import { CONTROLLER_LOST, SENSOR_IMPLAUSIBLE } from './builtin.ts';
import { type AlarmInput, type AlarmState, firstState, nextState, verdictOf } from './life.ts';
import type { AlarmRule } from './rules.ts';

export interface Evidence {
  readonly name: string;
  readonly found: string;
  readonly expected: string;
}

/** One alarm as published and shown; values in the catalogue unit of what it watches. */
export interface AlarmReport {
  readonly id: string;
  readonly chiller: string;
  readonly state: AlarmState['state'];
  readonly priority: 1 | 2 | 3;
  readonly title: string;
  /** RFC 3339 UTC. */
  readonly since: string;
  readonly metric: string | null;
  readonly value: number | null;
  readonly limit: number | null;
  readonly unit: string | null;
  readonly cause: string;
  readonly consequence: string;
  readonly action: string;
  readonly evidence: readonly Evidence[];
}

export interface AlarmEvent {
  /** `updated`: it stands on, and what its evidence names is not what it named before. */
  readonly change: 'raised' | 'cleared' | 'updated';
  readonly report: AlarmReport;
}

/** What the alarms see of one interval. */
export interface AlarmView {
  readonly chiller: string;
  readonly time: number;
  readonly interval_s: number;
  readonly running: boolean;
  readonly steady: boolean;
  readonly running_for_s: number;
  /** Metrics and points by name, catalogue units. */
  readonly figures: Readonly<Record<string, Figure>>;
  readonly link: { readonly state: LinkState; readonly reason: string | null };
  /** Points that cannot be right while the link stands: name and reason. */
  readonly implausible: readonly { readonly name: string; readonly reason: string }[];
}

export interface AlarmRecord {
  readonly life: AlarmState;
  /** Evidence of the last interval that had some: kept while the alarm stands. */
  readonly evidence: readonly Evidence[];
}

/** Kept from interval to interval, by alarm id. Plain JSON. */
export type AlarmStates = Readonly<Record<string, AlarmRecord>>;

export interface AlarmOutcome {
  readonly states: AlarmStates;
  /** Every alarm that is not normal, most urgent first. */
  readonly open: readonly AlarmReport[];
  readonly events: readonly AlarmEvent[];
}

type Judged = Pick<AlarmInput, 'verdict' | 'value'> & { readonly evidence: readonly Evidence[] };

type Standing = Omit<AlarmReport, 'state' | 'since' | 'value' | 'evidence' | 'chiller'> &
  Pick<AlarmRule, 'on_delay_s' | 'off_delay_s'>;

export function evaluateAlarms(before: AlarmStates, rules: readonly AlarmRule[], view: AlarmView): AlarmOutcome {
  const states: Record<string, AlarmRecord> = {};
  const open: AlarmReport[] = [];
  const events: AlarmEvent[] = [];
  const judge = (standing: Standing, judged: Judged): void => {
    const old = before[standing.id] ?? { life: firstState(view.time), evidence: [] };
    const input = { time: view.time, interval_s: view.interval_s, verdict: judged.verdict, value: judged.value };
    const { state: life, change: turn } = nextState(old.life, input, standing);
    const evidence = judged.evidence.length > 0 ? judged.evidence : old.evidence;
    const change = turn ?? (life.state !== 'normal' && !sameNames(old.evidence, evidence) ? 'updated' : null);
    states[standing.id] = { life, evidence: life.state === 'normal' && life.counted_s === 0 ? [] : evidence };
    const report = reportOf(standing, { life, evidence }, view.chiller);
    if (change !== null) events.push({ change, report });
    if (life.state !== 'normal') open.push(report);
  };
  judge({ ...CONTROLLER_LOST, ...NO_LIMIT }, judgeLink(view));
  judge({ ...SENSOR_IMPLAUSIBLE, ...NO_LIMIT }, judgeSensors(view));
  for (const rule of rules) judge({ ...rule, metric: rule.watch }, judgeRule(rule, view));
  for (const [id, { life }] of Object.entries(before))
    if (states[id] === undefined && life.state !== 'normal')
      events.push({ change: 'cleared', report: withdrawn(id, life, view) });
  open.sort((a, b) => a.priority - b.priority || compareText(a.since, b.since));
  return { states, open, events };
}

/** A rule that was taken out of the site file while its alarm stood: the retained message would stand for ever. */
function withdrawn(id: string, { value }: AlarmState, view: AlarmView): AlarmReport {
  const found = { name: 'rule', found: 'not in the site file any more', expected: 'a rule of this id' };
  const gone = { id, title: id, priority: 3, cause: '', consequence: '', action: '', ...NO_LIMIT } as const;
  return reportOf(
    { ...gone, on_delay_s: 0, off_delay_s: 0 },
    { life: { ...firstState(view.time), value }, evidence: [found] },
    view.chiller,
  );
}

/** Names alone: figures move every interval, and a message of each would be chatter. */
function sameNames(before: readonly Evidence[], now: readonly Evidence[]): boolean {
  const names = new Set(now.map(({ name }) => name));
  const old = new Set(before.map(({ name }) => name));
  return names.size === old.size && [...names].every((name) => old.has(name));
}

const NO_LIMIT = { metric: null, limit: null, unit: null };

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

function reportOf(standing: Standing, record: AlarmRecord, chiller: string): AlarmReport {
  const {
    on_delay_s: _on,
    off_delay_s: _off,
    id,
    title,
    priority,
    metric,
    limit,
    unit,
    cause,
    consequence,
    action,
  } = standing;
  const { life, evidence } = record;
  return {
    id,
    chiller,
    state: life.state,
    priority,
    title,
    since: rfc3339(life.since),
    metric,
    value: life.value,
    limit,
    unit,
    cause,
    consequence,
    action,
    evidence,
  };
}

function judgeLink(view: AlarmView): Judged {
  const { state, reason } = view.link;
  if (state === 'connected') return { verdict: 'good', value: null, evidence: [] };
  // 'connecting' is the first attempt after a start: too early to say anything.
  if (state !== 'lost') return { verdict: 'unknown', value: null, evidence: [] };
  return {
    verdict: 'crossed',
    value: null,
    evidence: [{ name: 'link', found: reason ?? 'lost', expected: 'the controller answers' }],
  };
}

function judgeSensors(view: AlarmView): Judged {
  if (view.link.state !== 'connected') return { verdict: 'unknown', value: null, evidence: [] };
  return {
    verdict: view.implausible.length > 0 ? 'crossed' : 'good',
    value: null,
    evidence: view.implausible.map(({ name, reason }) => ({ name, found: reason, expected: 'a believable reading' })),
  };
}

function judgeRule(rule: AlarmRule, view: AlarmView): Judged {
  const judgedNow =
    rule.when === 'always' ||
    (view.running && view.running_for_s >= rule.running_for_s && (rule.when === 'running' || view.steady));
  if (!judgedNow) {
    // Unsteady is a pause in the evidence; only a machine that stopped explains an alarm away.
    const paused = rule.when === 'steady' && view.running && view.running_for_s >= rule.running_for_s;
    return { verdict: paused ? 'unknown' : 'not_judged', value: null, evidence: [] };
  }
  const figure = view.figures[rule.watch];
  if (figure === undefined || figure.value === null) return { verdict: 'unknown', value: null, evidence: [] };
  const verdict = verdictOf(rule, figure.value);
  return { verdict, value: figure.value, evidence: verdict === 'crossed' ? [evidenceOf(rule, figure)] : [] };
}

function evidenceOf(rule: AlarmRule, figure: Figure): Evidence {
  const label = UNITS[rule.unit as UnitName].label;
  const give = (value: number): string => `${Number(value.toPrecision(5))}${label === '' ? '' : ` ${label}`}`;
  const u = figure.uncertainty === null ? '' : ` ± ${give(Number(figure.uncertainty.toPrecision(2)))} (k = 2)`;
  const doubt = figure.quality === 'good' ? '' : `, ${figure.quality}: ${figure.reason}`;
  return {
    name: rule.watch,
    found: `${give(figure.value as number)}${u}${doubt}`,
    expected: `not ${rule.side} ${give(rule.limit)}`,
  };
}
