/** Judges every alarm of one chiller for one interval. Pure: state and commands in, state and events out. */
import type { Fault } from '../base/result.ts';
import { rfc3339 } from '../base/time.ts';
import { CONTROLLER_LOST, SENSOR_IMPLAUSIBLE, SENSOR_SUSPECT } from './builtin.ts';
import { type AlarmCommand, commanded } from './commands.ts';
import { type Judged, judgeLink, judgeRule, judgeSensors, judgeSuspects } from './judge.ts';
import { type AlarmState, administered, type Change, type Deed, firstState, nextState, type Traits } from './life.ts';
import type { AlarmRule } from './rules.ts';
import { isActive, type PublishedState, published } from './states.ts';
import type { AlarmView, Evidence } from './view.ts';

export interface ReportedDeed {
  readonly by: string;
  /** RFC 3339 UTC. */
  readonly time: string;
  readonly reason: string | null;
}

/** When a limit is judged, and how. */
export interface ReportedCondition {
  readonly side: 'above' | 'below';
  /** Catalogue unit, as a difference. */
  readonly deadband: number;
  readonly on_delay_s: number;
  readonly off_delay_s: number;
  readonly when: 'running' | 'steady' | 'always';
  readonly running_for_s: number;
  /** Crossed only by more than the figure's uncertainty. */
  readonly beyond_uncertainty: boolean;
}

/** One alarm as published and shown; values in the catalogue unit of what it watches. */
export interface AlarmReport {
  readonly id: string;
  readonly chiller: string;
  readonly state: PublishedState;
  readonly priority: 1 | 2 | 3;
  readonly title: string;
  /** Of the state. RFC 3339 UTC, as every time here. */
  readonly since: string;
  /** Whether its condition holds, also behind a shelf. */
  readonly active: boolean;
  /** When the condition last began, and when it last ended; null: not yet. */
  readonly raised: string | null;
  readonly cleared: string | null;
  readonly acknowledged: ReportedDeed | null;
  readonly shelf: (ReportedDeed & { readonly until: string }) | null;
  /** What of the machine's state explains it, while it is suppressed by design. */
  readonly suppression: string | null;
  /** Why it is out of service; null: in service. */
  readonly out_of_service: string | null;
  readonly latching: boolean;
  /** False: shelving is refused. */
  readonly shelvable: boolean;
  readonly metric: string | null;
  readonly value: number | null;
  readonly limit: number | null;
  readonly unit: string | null;
  readonly condition: ReportedCondition | null;
  readonly cause: string;
  readonly consequence: string;
  readonly action: string;
  /** Time that a person has before the consequence, s; null: none is stated. */
  readonly respond_within_s: number | null;
  readonly evidence: readonly Evidence[];
}

export interface AlarmEvent {
  /**
   * `raised` and `cleared`: the condition began or ended; `report.state` says whether anybody is to be told (a shelved
   * alarm stays shelved). `updated`: it stands on, and what its evidence names is not what it named before.
   */
  readonly change: Change | 'updated';
  readonly report: AlarmReport;
}

export interface AlarmRecord {
  readonly life: AlarmState;
  /** Evidence of the last interval that had some: kept while the alarm stands. */
  readonly evidence: readonly Evidence[];
}

/** Kept from interval to interval, by alarm id. Plain JSON. */
export type AlarmStates = Readonly<Record<string, AlarmRecord>>;

/** What became of a command: null where it took effect, or changed nothing because it was so already. */
export interface CommandOutcome {
  readonly command: AlarmCommand;
  readonly changed: boolean;
  readonly refused: Fault | null;
}

export interface AlarmOutcome {
  readonly states: AlarmStates;
  /** Every alarm that is not normal, most urgent first. */
  readonly open: readonly AlarmReport[];
  readonly events: readonly AlarmEvent[];
  readonly commands: readonly CommandOutcome[];
}

type Standing = Omit<AlarmRule, 'watch' | 'limit' | 'unit' | 'side'> & {
  readonly metric: string | null;
  readonly limit: number | null;
  readonly unit: string | null;
  readonly side: 'above' | 'below' | null;
};

export function evaluateAlarms(before: AlarmStates, rules: readonly AlarmRule[], view: AlarmView): AlarmOutcome {
  const states: Record<string, AlarmRecord> = {};
  const open: AlarmReport[] = [];
  const events: AlarmEvent[] = [];
  const commands: CommandOutcome[] = [];
  const judge = (standing: Standing, judged: Judged): void => {
    const outcome = liveOn(recordOf(before[standing.id], view.time), { standing, judged, view });
    states[standing.id] = outcome.record;
    events.push(...outcome.events);
    commands.push(...outcome.commands);
    if (outcome.record.life.state !== 'normal') open.push(reportOf(standing, outcome.record, view.chiller));
  };
  judge({ ...CONTROLLER_LOST, ...NO_LIMIT }, judgeLink(view));
  judge({ ...SENSOR_IMPLAUSIBLE, ...NO_LIMIT }, judgeSensors(view));
  judge({ ...SENSOR_SUSPECT, ...NO_LIMIT }, judgeSuspects(view));
  for (const rule of rules) judge({ ...rule, metric: rule.watch }, judgeRule(rule, view));
  for (const [id, { life }] of Object.entries(before))
    if (states[id] === undefined && life.state !== 'normal')
      events.push({ change: 'cleared', report: withdrawn(id, life, view) });
  open.sort((a, b) => a.priority - b.priority || compareText(a.since, b.since));
  return { states, open, events, commands: [...commands, ...unknownAlarms(states, view)] };
}

interface Lived {
  readonly record: AlarmRecord;
  readonly events: readonly AlarmEvent[];
  readonly commands: readonly CommandOutcome[];
}

/** One interval of one alarm: what the time and the site file say, then people, then the figures. */
function liveOn(
  old: AlarmRecord,
  { standing, judged, view }: { readonly standing: Standing; readonly judged: Judged; readonly view: AlarmView },
): Lived {
  const events: AlarmEvent[] = [];
  const commands: CommandOutcome[] = [];
  let record = old;
  const move = (life: AlarmState, change: AlarmEvent['change'] | null): void => {
    record = { ...record, life };
    if (change !== null) events.push({ change, report: reportOf(standing, record, view.chiller) });
  };
  for (const { state, change } of administered(record.life, standing, view.time, view.interval_s)) move(state, change);
  for (const command of view.commands) {
    if (command.alarm !== standing.id) continue;
    const done = commanded(record.life, command, standing, view.time);
    commands.push({
      command,
      changed: done.ok && done.value.change !== null,
      refused: done.ok ? null : done.fault,
    });
    if (done.ok) move(done.value.state, done.value.change);
  }
  const { state, change } = nextState(record.life, { ...judged, ...view }, standing);
  const evidence = judged.evidence.length > 0 ? judged.evidence : old.evidence;
  record = { ...record, evidence };
  const renamed = isActive(state.state) && !sameNames(old.evidence, evidence);
  move(state, change ?? (renamed ? 'updated' : null));
  const forgotten = state.state === 'normal' && state.counted_s === 0;
  return { record: forgotten ? { ...record, evidence: [] } : record, events, commands };
}

/** As the store kept it, also of an earlier version, which knew fewer facts of an alarm. */
function recordOf(stored: AlarmRecord | undefined, time: number): AlarmRecord {
  if (stored === undefined) return { life: firstState(time), evidence: [] };
  const life = { ...firstState(stored.life.since), ...stored.life };
  if (life.state !== 'unacknowledged' || life.raised !== null) return { ...stored, life };
  return { ...stored, life: { ...life, raised: life.since } };
}

/** Commands of alarms that this chiller has not. */
function unknownAlarms(states: AlarmStates, { commands, chiller }: AlarmView): CommandOutcome[] {
  return commands
    .filter(({ alarm }) => states[alarm] === undefined)
    .map((command) => {
      const message = `${command.verb}: ${chiller} has no alarm '${command.alarm}'`;
      return { command, changed: false, refused: { code: 'alarm_command', message } };
    });
}

/** A rule that was taken out of the site file while its alarm stood: the retained message would stand for ever. */
function withdrawn(id: string, { value }: AlarmState, view: AlarmView): AlarmReport {
  const found = { name: 'rule', found: 'not in the site file any more', expected: 'a rule of this id' };
  const gone = { ...CONTROLLER_LOST, id, title: id, priority: 3, cause: '', consequence: '', action: '' } as const;
  const life = { ...firstState(view.time), value };
  return reportOf({ ...gone, respond_within_s: null, ...NO_LIMIT }, { life, evidence: [found] }, view.chiller);
}

/** Names alone: figures move every interval, and a message of each would be chatter. */
function sameNames(before: readonly Evidence[], now: readonly Evidence[]): boolean {
  const names = new Set(now.map(({ name }) => name));
  const old = new Set(before.map(({ name }) => name));
  return names.size === old.size && [...names].every((name) => old.has(name));
}

const NO_LIMIT = { metric: null, limit: null, unit: null, side: null };

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

function reportOf(standing: Standing, { life, evidence }: AlarmRecord, chiller: string): AlarmReport {
  const { id, title, priority, metric, limit, unit, cause, consequence, action, respond_within_s } = standing;
  const at = (time: number | null): string | null => (time === null ? null : rfc3339(time));
  return {
    id,
    chiller,
    state: published(life.state),
    priority,
    title,
    since: rfc3339(life.since),
    active: isActive(life.state),
    raised: at(life.raised),
    cleared: at(life.cleared),
    acknowledged: life.acknowledged === null ? null : deed(life.acknowledged),
    shelf: life.shelf === null ? null : { ...deed(life.shelf), until: rfc3339(life.shelf.until) },
    suppression: life.explained,
    out_of_service: standing.out_of_service,
    latching: standing.latching,
    shelvable: !standing.protected,
    metric,
    value: life.value,
    limit,
    unit,
    condition: standing.side === null ? null : conditionOf(standing, standing.side),
    cause,
    consequence,
    action,
    respond_within_s,
    evidence,
  };
}

function deed({ by, time, reason }: Deed): ReportedDeed {
  return { by, time: rfc3339(time), reason };
}

function conditionOf(standing: Standing & Traits, side: 'above' | 'below'): ReportedCondition {
  const { deadband, on_delay_s, off_delay_s, when, running_for_s, beyond_uncertainty } = standing;
  return { side, deadband, on_delay_s, off_delay_s, when, running_for_s, beyond_uncertainty };
}
