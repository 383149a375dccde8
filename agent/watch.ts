/** One chiller under watch: its samples, its solver, the fold's state, and what the last interval found. */

import type { AlarmEvent } from './alarms/evaluate.ts';
import type { Clock } from './base/clock.ts';
import type { Doubt } from './base/quality.ts';
import { fail, ok, type Result } from './base/result.ts';
import { fromSi } from './base/units.ts';
import { prepare, type Solver } from './cycle/solve.ts';
import type { CycleState } from './cycle/types.ts';
import type { History } from './history/history.ts';
import type { FastSamples, AlarmEvent as StoredAlarm } from './history/types.ts';
import { joinFigures, type SplitFigures, splitFigures } from './metrics/figures.ts';
import { continued, MINUTE_START, type MinuteRecord, type MinuteState, minute, type PointFigure } from './minute.ts';
import type { Interval } from './pace.ts';
import { pointDefinition } from './points/dictionary.ts';
import { type FastColumns, type FastWindow, fastWindow } from './points/fast-window.ts';
import { type SampleTable, sampleTable } from './points/samples.ts';
import { takeSnapshot } from './points/snapshot.ts';
import type { SourceStatus } from './points/types.ts';
import type { ChillerSite, Site } from './site/site.ts';

export interface WatchOptions {
  readonly site: Site;
  readonly chiller: ChillerSite;
  readonly history: History;
  readonly clock: Clock;
  /** First part of every topic of the site: `<prefix>/<site>`. */
  readonly root: string;
}

export class ChillerWatch {
  readonly chiller: ChillerSite;
  readonly samples: SampleTable;
  readonly #options: WatchOptions;
  readonly #solver: Solver;
  readonly #fast: FastWindow;
  #state: MinuteState;
  #record: MinuteRecord | null;
  /** End of the last stored interval, ms. */
  readonly last: number | null;

  /** Goes on where the store left off. */
  static open(options: WatchOptions): Result<ChillerWatch> {
    const { chiller, history } = options;
    const solver = prepare(chiller.machine);
    if (!solver.ok) return solver;
    const stored = history.loadState(chiller.id);
    if (!stored.ok) return stored;
    const record = history.latestRecord(chiller.id);
    if (!record.ok) return record;
    if (stored.value === null)
      return ok(new ChillerWatch(options, solver.value, { state: MINUTE_START, record: null, last: null }));
    const state = continued(parse<unknown>(stored.value.state));
    if (state === null) return fail('history_corrupt', `the stored state of ${chiller.id} cannot be read`);
    const found = record.value === null ? null : parse<unknown>(record.value.record);
    return ok(
      new ChillerWatch(options, solver.value, {
        state,
        record: fromStored(found, chiller.id),
        last: stored.value.time,
      }),
    );
  }

  private constructor(
    options: WatchOptions,
    solver: Solver,
    past: { readonly state: MinuteState; readonly record: MinuteRecord | null; readonly last: number | null },
  ) {
    this.#options = options;
    this.#solver = solver;
    this.chiller = options.chiller;
    this.samples = sampleTable(options.chiller.points.map((point) => point.name));
    this.#fast = fastWindow(options.chiller.points);
    this.#state = past.state;
    this.#record = past.record;
    this.last = past.last;
  }

  /** What the last interval found, also from before a restart; null before the first. */
  get record(): MinuteRecord | null {
    return this.#record;
  }

  /** Points that were read at least once since the start. */
  pointsRead(): number {
    return [...this.samples.interval(0, 0).values()].filter(({ latest }) => latest !== null).length;
  }

  /** Folds one interval in and commits it. The fold goes on even where the store takes nothing; the fault says so. */
  fold({ from, to }: Interval, link: SourceStatus): Result<MinuteRecord> {
    const { site, chiller, history, root } = this.#options;
    const atmosphere = { local: site.barometer };
    const samples = this.samples.interval(from, to);
    this.#fast.append(samples, atmosphere);
    const snapshot = takeSnapshot({ specs: chiller.points, samples, to, atmosphere, link });
    const solution = this.#solver.solve(snapshot);
    const interval_s = (to - from) / 1000;
    const columns = (point: string): FastColumns => this.#fast.columns(point);
    const outcome = minute(this.#state, { snapshot, solution, link, columns, interval_s }, chiller, root);
    this.#state = outcome.state;
    this.#record = outcome.record;
    const committed = history.commitMinute({
      chiller: chiller.id,
      sequence: outcome.record.sequence,
      time: to,
      state: JSON.stringify(outcome.state),
      record: JSON.stringify(toStored(outcome.record)),
      messages: site.mqtt === null ? [] : outcome.messages,
      fast: this.#fastSince(from),
      alarmEvents: outcome.events.map((event) => storedAlarm(event, to)),
    });
    return committed.ok ? ok(outcome.record) : committed;
  }

  #fastSince(from: number): FastSamples[] {
    return this.#fast.points.map((point) => {
      const { times, values } = this.#fast.columns(point, from);
      const { unit } = pointDefinition(point);
      return { point, times, values: values.map((value) => fromSi(value, unit)) };
    });
  }
}

function storedAlarm({ change, report }: AlarmEvent, time: number): StoredAlarm {
  const { id, state, priority } = report;
  // An alarm that only names another sensor stands in the same state as before: what changed is told beside it.
  return { id, time, state, priority, detail: JSON.stringify({ change, ...report }) };
}

/**
 * The record as the store keeps it: figures and points as plain numbers for trends, what belongs to each beside them.
 */
type StoredMinute = Omit<MinuteRecord, 'points' | 'figures'> &
  SplitFigures & {
    readonly points: Readonly<Record<string, number | null>>;
    readonly point_detail: MinuteRecord['points'];
  };

function toStored({ figures, points: point_detail, ...rest }: MinuteRecord): StoredMinute {
  const points = Object.fromEntries(Object.entries(point_detail).map(([name, { value }]) => [name, value]));
  return { ...rest, ...splitFigures(figures), points, point_detail };
}

/**
 * The newest record as the store kept it, also of an earlier version: what that one did not know is empty, and what
 * has another shape is left out. Null where it does not say of which minute it is: the next one will be there soon.
 */
function fromStored(stored: unknown, chiller: string): MinuteRecord | null {
  if (!isGroup(stored)) return null;
  const { point_detail, values, uncertainty, quality, ...rest } = stored as Partial<StoredMinute>;
  if (typeof rest.time !== 'string' || !Number.isFinite(Date.parse(rest.time))) return null;
  if (typeof rest.sequence !== 'number') return null;
  return {
    ...rest,
    chiller,
    time: rest.time,
    sequence: rest.sequence,
    interval_s: rest.interval_s ?? 60,
    state: rest.state ?? 'unknown',
    state_since: rest.state_since ?? rest.time,
    economizer: rest.economizer ?? 'unknown',
    figures: joinFigures({
      values: entries<number | null>(values, (each) => each === null || typeof each === 'number'),
      uncertainty: entries<number>(uncertainty, (each) => typeof each === 'number'),
      quality: entries<Doubt>(quality, isGroup),
    }),
    points: entries<PointFigure>(point_detail, (each) => isGroup(each) && 'value' in each && 'quality' in each),
    states: entries<CycleState>(rest.states, isGroup),
    ghost: entries<CycleState>(rest.ghost, isGroup),
    standstill: isGroup(rest.standstill) ? rest.standstill : null,
    alarms: Array.isArray(rest.alarms) ? rest.alarms.filter(isAlarm) : [],
  };
}

function isGroup(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function isAlarm(value: unknown): boolean {
  return isGroup(value) && typeof value['id'] === 'string' && Array.isArray(value['evidence']);
}

/** The entries of a group that are what they should be; none where it is no group. */
function entries<T>(value: unknown, fits: (each: unknown) => boolean): Record<string, T> {
  const kept = isGroup(value) ? Object.entries(value).filter(([, each]) => fits(each)) : [];
  return Object.fromEntries(kept) as Record<string, T>;
}

function parse<T>(text: string): T | null {
  try {
    return JSON.parse(text) as T;
  } catch {
    return null;
  }
}
