/**
 * Whether the machine runs, what it is doing, and whether it does so steadily: a pure fold over snapshots. The rule
 * is configuration with defaults (common practice, no source). The state is plain JSON, so that it is kept with the
 * minute and goes on after a restart.
 */
import { z } from 'zod';
import { quantity } from '../base/quantity.ts';
import type { PointName } from './dictionary.ts';
import type { Snapshot } from './types.ts';

const time = (preset: string, meaning: string) => quantity('time', preset).prefault(preset).describe(meaning);
const share = (preset: string, meaning: string) => quantity('fraction', preset).prefault(preset).describe(meaning);

export const runningRule = z
  .strictObject({
    running_power: quantity('power', '15 kW')
      .prefault('15 kW')
      .describe('above this electrical power the machine runs, where no point says so itself'),
    running_current: quantity('current', '20 A')
      .prefault('20 A')
      .describe('above this main motor current the machine runs, where neither a state nor a power is there'),
    starting: time('5 min', 'this long after a start the state is starting'),
    stopping: time('2 min', 'this long after a stop the state is stopping'),
    standstill: time('30 min', 'after this long without running the state is standstill: refrigerant has equalised'),
    cycling_starts: z
      .int()
      .min(2)
      .max(20)
      .default(3)
      .describe('as many starts within cycling_window mean low-load cycling'),
    cycling_window: time('2 h', 'window in which starts are counted for low-load cycling'),
    steady_after: time('15 min', 'no sooner than this after a start the machine counts as steady'),
    steady_window: time('10 min', 'window over which drift is judged'),
    steady_water_drift: quantity('temperature_difference', '0.3 K')
      .prefault('0.3 K')
      .describe('greatest drift of leaving chilled water over the window'),
    steady_pressure_drift: share('2 %', 'greatest drift of evaporator and condenser pressure over the window'),
    steady_power_drift: share('5 %', 'greatest drift of power over the window'),
    pull_down_drift: quantity('temperature_difference', '0.5 K')
      .prefault('0.5 K')
      .describe('after a start, while leaving chilled water falls faster than this over the window: pull-down'),
  })
  .prefault({});

/** Parsed; SI (seconds, W, A, K, fractions of 1). */
export type RunningRule = z.output<typeof runningRule>;

export type UnitState =
  | 'off'
  | 'starting'
  | 'pull-down'
  | 'load change'
  /** Runs, and has not been watched long enough to say whether steadily. */
  | 'running'
  | 'steady'
  | 'low-load cycling'
  | 'stopping'
  | 'standstill'
  | 'unknown';

/** One kept row of the drift window: time in ms, then SI value or null of each of `WATCHED`. */
type Row = readonly [time: number, ...values: (number | null)[]];

export interface RunningState {
  readonly state: UnitState;
  /** End of the interval in which the state was entered, ms since the epoch. */
  readonly since: number;
  readonly steady: boolean;
  /** Starts seen, and seconds run, since this agent watches the machine. */
  readonly starts: number;
  readonly run_seconds: number;
  /** Last known; null: never known. `state` is `unknown` where this interval does not say. */
  readonly running: boolean | null;
  /** When the present run was seen to start; null where it ran already when first seen, or does not run. */
  readonly started: number | null;
  /** Since when `running` has been what it is, ms. */
  readonly running_since: number;
  /** Whether this run has been steady once: pull-down is then over. */
  readonly settled: boolean;
  /** End of the last interval folded in, ms. */
  readonly time: number | null;
  /** Starts within the cycling window, ms. */
  readonly recent_starts: readonly number[];
  readonly window: readonly Row[];
}

export const RUNNING_START: RunningState = {
  state: 'unknown',
  since: 0,
  steady: false,
  starts: 0,
  run_seconds: 0,
  running: null,
  started: null,
  running_since: 0,
  settled: false,
  time: null,
  recent_starts: [],
  window: [],
};

const POWER_POINTS: readonly PointName[] = ['unit.power', 'main_compressor.power'];
const RUNNING_POINTS: readonly PointName[] = ['unit.running', 'main_compressor.running'];
/** Watched for drift, in the order of a row's columns. */
const WATCHED: readonly PointName[] = [
  'chilled_water.leaving_temperature',
  'evaporator.pressure',
  'condenser.pressure',
  'unit.power',
  'main_compressor.power',
];
/** Rows kept over the steady window: enough for a slope, and a bound on what is stored each minute. */
const ROWS_MAX = 24;
/** Starts remembered, at least: as many as are told apart in an hour. */
const STARTS_KEPT = 6;
/** A hole in time longer than this breaks the drift window and is not counted as running time:
 * so many intervals, or minutes where those are longer (the first interval after a start is cut short). */
const HOLE_INTERVALS = 5;

/**
 * Folds one interval in. A snapshot that is not later than the last one leaves the state as it is (the clock was
 * stepped). Where the points do not tell whether the machine runs, the state is `unknown`, never `off`.
 */
export function nextRunning(
  before: RunningState,
  input: { readonly snapshot: Snapshot; readonly rule: RunningRule; readonly interval_s: number },
): RunningState {
  const { snapshot, rule, interval_s } = input;
  const now = snapshot.time;
  if (before.time !== null && now <= before.time) return before;
  const elapsed_s = before.time === null ? 0 : (now - before.time) / 1000;
  const hole = elapsed_s > HOLE_INTERVALS * Math.max(interval_s, 60);
  const told = isRunning(snapshot, rule);
  const running = told ?? before.running;
  const begun = running === true && before.running === false;
  const changed = running !== before.running;
  const kept = before.recent_starts.filter((start) => start > now - rule.cycling_window * 1000);
  const recent_starts = begun ? [...kept, now].slice(-Math.max(rule.cycling_starts, STARTS_KEPT)) : kept;
  // With long intervals the drift is judged over no fewer than four of them.
  const window_ms = Math.max(rule.steady_window, 4 * interval_s) * 1000;
  const window = running === true ? withRow(hole || changed ? [] : before.window, snapshot, window_ms) : [];
  const judged = {
    now,
    running: told,
    begun,
    started: begun ? now : running === true && !changed ? before.started : null,
    running_since: changed || before.time === null ? now : before.running_since,
    recent_starts,
    window,
    window_ms,
  };
  const { state, settled } = judge(before, judged, rule);
  return {
    state,
    since: state === before.state && before.time !== null ? before.since : now,
    steady: state === 'steady',
    starts: before.starts + (begun ? 1 : 0),
    run_seconds: before.run_seconds + (told === true && before.running === true && !hole ? elapsed_s : 0),
    running,
    started: judged.started,
    running_since: judged.running_since,
    settled,
    time: now,
    recent_starts,
    window,
  };
}

interface Judged {
  readonly now: number;
  readonly running: boolean | null;
  readonly begun: boolean;
  readonly started: number | null;
  readonly running_since: number;
  readonly recent_starts: readonly number[];
  readonly window: readonly Row[];
  readonly window_ms: number;
}

function judge(before: RunningState, given: Judged, rule: RunningRule): { state: UnitState; settled: boolean } {
  const { now, running, started } = given;
  if (running === null) return { state: 'unknown', settled: before.settled };
  if (!running) {
    const stopped_s = (now - given.running_since) / 1000;
    const sawStop = before.running === true || before.state === 'stopping';
    if (sawStop && stopped_s < rule.stopping) return { state: 'stopping', settled: false };
    return { state: stopped_s >= rule.standstill ? 'standstill' : 'off', settled: false };
  }
  const ran_s = started === null ? Number.POSITIVE_INFINITY : (now - started) / 1000;
  const settledBefore = before.running === true && before.settled && !given.begun;
  if (ran_s < rule.starting) return { state: 'starting', settled: false };
  if (given.recent_starts.length >= rule.cycling_starts) return { state: 'low-load cycling', settled: settledBefore };
  const drift = drifts(given.window, given.window_ms);
  if (drift !== null && isSteady(drift, rule) && ran_s >= rule.steady_after) return { state: 'steady', settled: true };
  const falling = drift?.water !== undefined && drift.water !== null && drift.water < -rule.pull_down_drift;
  // Before the window is full nothing is known of the drift; after a start that is still pull-down.
  if (started !== null && !settledBefore && (falling || drift === null)) return { state: 'pull-down', settled: false };
  // Without a window, or without a temperature or pressure in it, nothing speaks for steady nor against it.
  const judged = drift !== null && (drift.water !== null || drift.pressures.length > 0);
  return { state: judged ? 'load change' : 'running', settled: settledBefore };
}

/** Seconds of the present run, as far as it was seen; 0 while the machine is not known to run. */
export function runningFor(state: RunningState): number {
  if (state.running !== true || state.state === 'unknown' || state.time === null) return 0;
  return (state.time - state.running_since) / 1000;
}

/** True, false, or null where no point says. The first evidence in the order of the rule decides. */
export function isRunning(snapshot: Snapshot, rule: RunningRule): boolean | null {
  const value = (name: PointName): number | null => snapshot.points[name]?.value ?? null;
  for (const name of RUNNING_POINTS) {
    const said = value(name);
    if (said !== null) return said >= 0.5;
  }
  for (const name of POWER_POINTS) {
    const power = value(name);
    if (power !== null) return power > rule.running_power;
  }
  const current = value('main_compressor.current');
  return current === null ? null : current > rule.running_current;
}

/**
 * Drops what left the window and adds this interval, unless the newest row is so near that the rows' bound would be
 * exceeded.
 */
function withRow(rows: readonly Row[], snapshot: Snapshot, window_ms: number): readonly Row[] {
  const kept = rows.filter(([at]) => at > snapshot.time - window_ms - window_ms / ROWS_MAX);
  const newest = kept[kept.length - 1]?.[0] ?? Number.NEGATIVE_INFINITY;
  if (snapshot.time - newest < (window_ms / ROWS_MAX) * 0.99) return kept;
  const values = WATCHED.map((name) => snapshot.points[name]?.value ?? null);
  return [...kept, [snapshot.time, ...values]];
}

interface Drifts {
  /** K over the window, signed; null where the point is not there. */
  readonly water: number | null;
  /** Share of the mean over the window, by the columns of pressure and power that are there. */
  readonly pressures: readonly number[];
  readonly powers: readonly number[];
}

/** Null until the window is filled. */
function drifts(rows: readonly Row[], window_ms: number): Drifts | null {
  const [first, last] = [rows[0], rows[rows.length - 1]];
  if (first === undefined || last === undefined || rows.length < 3) return null;
  if (last[0] - first[0] < window_ms * 0.9) return null;
  const [water, evaporator, condenser, unit, main] = WATCHED.map((_, column) => lineFit(rows, column + 1, window_ms));
  const shares = (fits: (Fit | null | undefined)[]): number[] =>
    fits.flatMap((each) => (each && each.mean !== 0 ? [Math.abs(each.drift / each.mean)] : []));
  return {
    water: water?.drift ?? null,
    pressures: shares([evaporator, condenser]),
    powers: shares([unit ?? main]),
  };
}

interface Fit {
  readonly mean: number;
  /** Slope by least squares times the window's length: noise of single rows hardly moves it. */
  readonly drift: number;
}

/** Null where fewer than half of the rows have the column. */
function lineFit(rows: readonly Row[], column: number, window_ms: number): Fit | null {
  const pairs = rows.flatMap((row) => {
    const value = row[column];
    return value === null || value === undefined ? [] : [[row[0], value] as const];
  });
  if (pairs.length < 3 || pairs.length * 2 < rows.length) return null;
  const meanTime = pairs.reduce((sum, [at]) => sum + at, 0) / pairs.length;
  const mean = pairs.reduce((sum, [, value]) => sum + value, 0) / pairs.length;
  let [products, squares] = [0, 0];
  for (const [at, value] of pairs) {
    products += (at - meanTime) * (value - mean);
    squares += (at - meanTime) ** 2;
  }
  return squares === 0 ? null : { mean, drift: (products / squares) * window_ms };
}

/** Every quantity that is there must hold still, and one of temperature and pressures must be there. */
function isSteady(drift: Drifts, rule: RunningRule): boolean {
  if (drift.water === null && drift.pressures.length === 0) return false;
  return (
    (drift.water === null || Math.abs(drift.water) <= rule.steady_water_drift) &&
    drift.pressures.every((each) => each <= rule.steady_pressure_drift) &&
    drift.powers.every((each) => each <= rule.steady_power_drift)
  );
}
