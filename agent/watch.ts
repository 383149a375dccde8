/** One chiller under watch: its samples, its solver, the fold's state, and what the last interval found. */

import { type AlarmCommand, readCommand } from './alarms/commands.ts';
import type { AlarmEvent, CommandOutcome } from './alarms/evaluate.ts';
import type { Clock } from './base/clock.ts';
import { LIMITS } from './base/limits.ts';
import { ok, type Result } from './base/result.ts';
import { toSi } from './base/units.ts';
import type { Callouts } from './callouts.ts';
import { ChillerFold } from './fold.ts';
import type { History } from './history/history.ts';
import type { AlarmEvent as StoredAlarm, StoredCommand } from './history/types.ts';
import type { MinuteRecord } from './minute.ts';
import { outgoing } from './outgoing.ts';
import type { Interval } from './pace.ts';
import { pointDefinition } from './points/dictionary.ts';
import type { SampleTable } from './points/samples.ts';
import type { SourceStatus } from './points/types.ts';
import type { Reference } from './season/reference.ts';
import type { ChillerSite, Site } from './site/site.ts';
import { readState, STATE_VERSION, stateText } from './state.ts';
import { fromStored, toStored } from './stored-minute.ts';

export interface WatchOptions {
  readonly site: Site;
  readonly chiller: ChillerSite;
  readonly history: History;
  readonly clock: Clock;
  /** First part of every topic of the site: `<prefix>/<site>`. */
  readonly root: string;
  /** Makes the packets of the alarms that a minute raised; left out: none are published. */
  readonly callouts?: Pick<Callouts, 'messages'>;
  /** The baseline that holds at an instant; left out: none is looked for. */
  readonly reference?: (chiller: ChillerSite, time: number) => Reference | null;
  /** Told what a minute made of each command to an alarm. */
  readonly onCommand?: (outcome: CommandOutcome) => void;
}

export class ChillerWatch {
  readonly chiller: ChillerSite;
  readonly samples: SampleTable;
  readonly #options: WatchOptions;
  readonly #fold: ChillerFold;
  #record: MinuteRecord | null;
  /** End of the last stored interval, ms. */
  readonly last: number | null;

  /** Goes on where the store left off: state, newest record, and the last hours of the fast points. */
  static open(options: WatchOptions): Result<ChillerWatch> {
    const { site, chiller, history, root } = options;
    const stored = history.loadState(chiller.id);
    if (!stored.ok) return stored;
    const record = history.latestRecord(chiller.id);
    if (!record.ok) return record;
    const kept = readState(stored.value?.state ?? null, chiller.id);
    if (!kept.ok) return kept;
    const { state, version } = kept.value;
    // The next minute overwrites it in the newer form.
    const copied = version < STATE_VERSION ? history.copyAside(`state-${version}`) : ok(null);
    if (!copied.ok) return copied;
    const fold = ChillerFold.prepare({ chiller, specs: chiller.points, barometer: site.barometer, root, state });
    if (!fold.ok) return fold;
    if (stored.value === null) return ok(new ChillerWatch(options, fold.value, { record: null, last: null }));
    refill(fold.value, { history, chiller: chiller.id, last: stored.value.time });
    const found = record.value === null ? null : parse<unknown>(record.value.record);
    return ok(
      new ChillerWatch(options, fold.value, { record: fromStored(found, chiller.id), last: stored.value.time }),
    );
  }

  private constructor(
    options: WatchOptions,
    fold: ChillerFold,
    past: { readonly record: MinuteRecord | null; readonly last: number | null },
  ) {
    this.#options = options;
    this.#fold = fold;
    this.chiller = options.chiller;
    this.samples = fold.samples;
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
    const { site, chiller, history, callouts, root } = this.#options;
    // Commands that cannot be read now wait for the next minute.
    const waiting = history.commands.waiting(chiller.id);
    const entries = waiting.ok ? waiting.value : [];
    const outcome = this.#fold.step({ from, to }, link, {
      commands: entries.flatMap(commandOf),
      reference: this.#options.reference?.(chiller, to) ?? null,
      replaced: lastReplaced(history, chiller.id, to),
    });
    this.#record = outcome.record;
    for (const command of outcome.commands) this.#options.onCommand?.(command);
    const committed = history.commitMinute({
      chiller: chiller.id,
      sequence: outcome.record.sequence,
      time: to,
      state: stateText(outcome.state),
      record: JSON.stringify(toStored(outcome.record)),
      messages: outgoing(site, outcome, () => callouts?.messages(chiller, outcome, root) ?? []),
      fast: this.#fold.fastSince(from),
      alarmEvents: outcome.events.map((event) => storedAlarm(event, to)),
      commands: entries.map(({ id }) => id),
    });
    return committed.ok ? ok(outcome.record) : committed;
  }
}

/**
 * The search for hunting looks back up to two hours: what the store still has of them stands in memory again, so that a
 * restart costs no verdict. Where it cannot be read the window begins empty, as the store counts and reports.
 */
function refill(
  { fast }: ChillerFold,
  { history, chiller, last }: { readonly history: History; readonly chiller: string; readonly last: number },
): void {
  for (const point of fast.points) {
    const from = last - 1000 * LIMITS.hunting_window_s_max;
    const stored = history.fastSamples({ chiller, point, from, to: last });
    if (!stored.ok) continue;
    const { unit } = pointDefinition(point);
    const { times, values } = stored.value;
    for (let i = 0; i < times.length; i += 1) fast.put(point, times[i] as number, toSi(values[i] as number, unit));
  }
}

/** When a sensor was last replaced by the maintenance log, ms; null: never, or the log cannot be read now. */
function lastReplaced(history: Pick<History, 'maintenance'>, chiller: string, to: number): number | null {
  const log = history.maintenance({ chiller, from: 0, to });
  if (!log.ok) return null;
  return log.value.findLast(({ kind }) => kind === 'sensor_replaced')?.time ?? null;
}

/** As it was understood when it came; what another version wrote and this one does not understand is passed over. */
function commandOf({ verb, payload }: StoredCommand): AlarmCommand[] {
  const read = readCommand(verb, payload);
  return read.ok ? [read.value] : [];
}

function storedAlarm({ change, report }: AlarmEvent, time: number): StoredAlarm {
  const { id, state, priority } = report;
  // An alarm that only names another sensor stands in the same state as before: what changed is told beside it.
  return { id, time, state, priority, detail: JSON.stringify({ change, ...report }) };
}

function parse<T>(text: string): T | null {
  try {
    return JSON.parse(text) as T;
  } catch {
    return null;
  }
}
