/**
 * The minute: a pure fold of one interval of one chiller. Solved figures and points in; the next state, the record
 * and the messages out. The same function runs live, in replay, in tests and inside Node-RED. State and record are
 * plain JSON.
 */
import type { AlarmCommand } from './alarms/commands.ts';
import {
  type AlarmEvent,
  type AlarmReport,
  type AlarmStates,
  type CommandOutcome,
  evaluateAlarms,
} from './alarms/evaluate.ts';
import { alarmMessages } from './alarms/payload.ts';
import type { Message } from './base/delivery.ts';
import type { Figure } from './base/metric.ts';
import { must } from './base/result.ts';
import { rfc3339 } from './base/time.ts';
import { differenceFromSi, fromSi, toSi } from './base/units.ts';
import { baselineFigures } from './baseline/metrics.ts';
import { type LearnedEfficiency, NOTHING_LEARNED, nextLearned } from './cycle/learning/learner.ts';
import { learnedFigures } from './cycle/learning/metrics.ts';
import type { CycleState, EconomizerState, Reconciliation, Solution } from './cycle/types.ts';
import { atStandstill, type StandstillFound, standstillSuspects } from './diagnosis/at-standstill.ts';
import { NO_SUSPICION, nextSuspicion, type Suspicion, suspicionWords } from './diagnosis/suspicion.ts';
import { exactFigures, roundFigure } from './metrics/figures.ts';
import { gateFigures } from './metrics/gate.ts';
import { metricsMessage } from './metrics/payload.ts';
import { pointDefinition } from './points/dictionary.ts';
import type { FastColumns } from './points/fast-window.ts';
import { plausibility } from './points/plausibility.ts';
import { nextRunning, RUNNING_START, type RunningState, runningFor, type UnitState } from './points/running.ts';
import { RUNNING_METRICS } from './points/running-metrics.ts';
import type { PointValue, Snapshot, SourceStatus } from './points/types.ts';
import { refrigerant } from './refrigerant/refrigerants.ts';
import { cleanNow, type Reference } from './season/reference.ts';
import type { ChillerSite } from './site/site.ts';
import { judgeLoops } from './valves/judge.ts';
import { valvesMessage } from './valves/payload.ts';

export interface MinuteState {
  /** Sequence number of the last record; 0 before the first. */
  readonly sequence: number;
  readonly running: RunningState;
  readonly alarms: AlarmStates;
  readonly standstill: StandstillFound | null;
  readonly suspicion: Suspicion;
  readonly learned: LearnedEfficiency;
}

export const MINUTE_START: MinuteState = {
  sequence: 0,
  running: RUNNING_START,
  alarms: {},
  standstill: null,
  suspicion: NO_SUSPICION,
  learned: NOTHING_LEARNED,
};

/**
 * A state as the store kept it, also of an earlier version: what that one did not know yet begins anew. Null where it
 * is no state.
 */
export function continued(stored: unknown): MinuteState | null {
  if (typeof stored !== 'object' || stored === null || Array.isArray(stored)) return null;
  const { running, ...rest } = stored as Partial<MinuteState>;
  if (typeof rest.sequence !== 'number') return null;
  return { ...MINUTE_START, ...rest, running: { ...RUNNING_START, ...running } };
}

export interface MinuteInput {
  readonly snapshot: Snapshot;
  readonly solution: Solution;
  readonly link: Pick<SourceStatus, 'state' | 'reason'>;
  /** The fast window: columns of a fast point, SI; empty where it is none. */
  readonly columns: (point: string) => FastColumns;
  /** Length of this interval; the first after a start may be shorter than the site's. */
  readonly interval_s: number;
  /** The baseline that holds, derived from the store; left out or null: none is declared, or none is known here. */
  readonly reference?: Reference | null;
  /** When a sensor of this chiller was last replaced, ms; left out or null: not known of any. */
  readonly replaced?: number | null;
  /** What people commanded of this chiller's alarms since the last interval, in order; left out: nothing. */
  readonly commands?: readonly AlarmCommand[];
}

/** One interval as kept and shown; catalogue units, expanded uncertainties (k = 2). */
export interface MinuteRecord {
  readonly chiller: string;
  /** RFC 3339 UTC, the interval's end. */
  readonly time: string;
  readonly sequence: number;
  readonly interval_s: number;
  readonly state: UnitState;
  readonly state_since: string;
  readonly economizer: EconomizerState;
  readonly figures: Readonly<Record<string, Figure>>;
  readonly points: Readonly<Record<string, PointFigure>>;
  readonly states: Readonly<Record<string, CycleState>>;
  readonly ghost: Readonly<Record<string, CycleState>>;
  /** Sensors against each other at the last stop that was long enough; null before the first. */
  readonly standstill: StandstillFound | null;
  readonly reconciliation: ReconciliationFigure;
  readonly alarms: readonly AlarmReport[];
}

/** What the balances say of this interval's readings, and which sensors stand accused by the last ones. */
export interface ReconciliationFigure extends Omit<Suspicion, 'clocks'> {
  /** Null where nothing is redundant. */
  readonly chi_square: Reconciliation['chi_square'];
  /** Standardized correction of each point and assumption that the balances check. */
  readonly corrections: Readonly<Record<string, number>>;
}

export const NO_RECONCILIATION: ReconciliationFigure = {
  chi_square: null,
  corrections: {},
  suspects: [],
  since: null,
  off: {},
};

export interface PointFigure extends Figure {
  readonly unit: string;
  readonly age_s: number | null;
}

export interface MinuteOutcome {
  readonly state: MinuteState;
  readonly record: MinuteRecord;
  readonly events: readonly AlarmEvent[];
  /** What became of each command. */
  readonly commands: readonly CommandOutcome[];
  /** What leaves, in order: metrics, level loops, then the alarms that changed. */
  readonly messages: readonly Message[];
}

export function minute(before: MinuteState, input: MinuteInput, site: ChillerSite, root: string): MinuteOutcome {
  const { snapshot, solution, link, interval_s, columns } = input;
  const { machine, running: rule } = site;
  const sequence = before.sequence + 1;
  const running = nextRunning(before.running, { snapshot, rule, interval_s });
  const points = pointFigures(snapshot);
  const { loops, figures: valves } = judgeLoops({ machine, columns, now: snapshot.time, running, rule });
  const gated = gateFigures(solution.metrics, { running });
  const { learned, told } = learn(before.learned, input, { figures: gated, steady: running.steady, site });
  const figures = rounded({
    ...exactFigures(RUNNING_METRICS, running),
    ...gated,
    ...told,
    ...valves,
    ...againstBaseline(input, { ...points, ...gated }, site),
  });
  const isRunning = running.running === true && running.state !== 'unknown';
  const time = rfc3339(snapshot.time);
  const standstill = atStandstill(before.standstill, {
    state: running.state,
    snapshot,
    refrigerant: must(refrigerant(site.machine.refrigerant)),
  });
  const { steady } = running;
  const { reconciliation } = solution;
  const suspicion = nextSuspicion(before.suspicion, { reconciliation, steady, interval_s, time: snapshot.time });
  const {
    states: alarms,
    open,
    events,
    commands,
  } = evaluateAlarms(before.alarms, site.alarms, {
    chiller: site.id,
    time: snapshot.time,
    interval_s,
    running: running.state === 'unknown' ? null : isRunning,
    steady,
    running_for_s: runningFor(running),
    figures: { ...points, ...figures },
    link,
    implausible: [...implausible(snapshot, isRunning), ...standstillSuspects(standstill, time)],
    suspects: suspicionWords(suspicion),
    commands: input.commands ?? [],
  });
  const record: MinuteRecord = {
    chiller: site.id,
    time,
    sequence,
    interval_s,
    state: running.state,
    state_since: rfc3339(running.since),
    economizer: solution.economizer,
    figures,
    points,
    states: isRunning ? solution.states : {},
    ghost: isRunning ? solution.ghost : {},
    standstill,
    reconciliation: reconciliationFigure(reconciliation, suspicion),
    alarms: open,
  };
  const { suspects } = suspicion;
  const messages = [
    metricsMessage({ root, chiller: site.id, time, sequence, state: running.state, suspects, figures }),
    valvesMessage({ root, chiller: site.id, time, sequence, loops }),
    ...alarmMessages(events, { root, sequence }),
  ];
  return { state: { sequence, running, alarms, standstill, suspicion, learned }, record, events, commands, messages };
}

/** What this minute adds to what is known of the main compressor, and what was known before of this minute. */
function learn(
  before: LearnedEfficiency,
  { snapshot, solution, interval_s, replaced = null }: MinuteInput,
  { figures, steady, site }: { figures: Readonly<Record<string, Figure>>; steady: boolean; site: ChillerSite },
): { readonly learned: LearnedEfficiency; readonly told: Readonly<Record<string, Figure>> } {
  const learning = { solution, figures, parameters: site.machine };
  const learned = nextLearned(before, { ...learning, steady, interval_s, time: snapshot.time, replaced });
  return { learned, told: learnedFigures(before.cells, learning) };
}

/** Nothing without a baseline that has passed its tests. */
function againstBaseline(
  { reference, snapshot, solution }: MinuteInput,
  figures: Readonly<Record<string, Figure>>,
  { machine }: ChillerSite,
): Record<string, Figure> {
  const clean = cleanNow(reference ?? null, { time: snapshot.time, economizer: solution.economizer });
  if (clean === null) return {};
  const fluid = must(refrigerant(machine.refrigerant));
  const saturationPressure = (temperature: number): number | null => {
    const found = fluid.saturationPressure(toSi(temperature, 'degC'));
    return found.ok ? fromSi(found.value, 'kPa') : null;
  };
  return baselineFigures({ clean, figures, saturationPressure });
}

function reconciliationFigure(
  { chi_square, corrections }: Reconciliation,
  { clocks: _clocks, ...suspicion }: Suspicion,
): ReconciliationFigure {
  const digits = (value: number): number => Number(value.toPrecision(3));
  return {
    chi_square:
      chi_square === null ? null : { value: digits(chi_square.value), dof: chi_square.dof, p: digits(chi_square.p) },
    corrections: Object.fromEntries(Object.entries(corrections).map(([name, z]) => [name, digits(z)])),
    ...suspicion,
  };
}

function rounded(figures: Readonly<Record<string, Figure>>): Record<string, Figure> {
  return Object.fromEntries(Object.entries(figures).map(([name, figure]) => [name, roundFigure(figure)]));
}

function pointFigures(snapshot: Snapshot): Record<string, PointFigure> {
  const figures: Record<string, PointFigure> = {};
  for (const [name, point] of Object.entries(snapshot.points)) figures[name] = pointFigure(name, point);
  return figures;
}

function pointFigure(name: string, point: PointValue): PointFigure {
  const { unit } = pointDefinition(name);
  return roundFigure({
    value: point.value === null ? null : fromSi(point.value, unit),
    uncertainty: point.u === null || point.u === 0 ? null : 2 * differenceFromSi(point.u, unit),
    quality: point.quality,
    reason: point.reason,
    unit,
    age_s: point.age_s,
  });
}

/** Points that were read and cannot be right: refused by their own range or frozen, or contradicted by others. */
function implausible(snapshot: Snapshot, running: boolean): { name: string; reason: string }[] {
  const refused = Object.entries(snapshot.points)
    .filter(([, point]) => point.quality === 'bad')
    .map(([name, point]) => ({ name, reason: point.reason ?? 'bad' }));
  const contradicted = plausibility({ snapshot, running }).map((finding) => ({
    name: finding.points.join(', '),
    reason: finding.message,
  }));
  return [...refused, ...contradicted];
}
