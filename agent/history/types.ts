import type { Message } from '../base/delivery.ts';
import type { Fault } from '../base/result.ts';

/** One fast point over one interval, by columns. Times in ms since the epoch; null where there was no measurement. */
export interface FastSamples {
  readonly point: string;
  readonly times: ArrayLike<number>;
  readonly values: ArrayLike<number | null>;
}

/** Stored fast samples of one point with from < time <= to, ms since the epoch. */
export interface FastQuery {
  readonly chiller: string;
  readonly point: string;
  readonly from: number;
  readonly to: number;
}

/** Equal lengths, times ascending; catalogue units. */
export interface FastStored {
  readonly times: readonly number[];
  readonly values: readonly number[];
}

/** One step of an alarm's life. */
export interface AlarmEvent {
  /** The rule; unique within its chiller. */
  readonly id: string;
  /** ms since the epoch. */
  readonly time: number;
  /** In words of ISA-18.2. */
  readonly state: string;
  readonly priority: number;
  /** The whole alarm as JSON, with what changed (`raised`, `cleared`, `updated`) as `change`. */
  readonly detail: string;
}

export interface JournalEntry extends AlarmEvent {
  readonly chiller: string;
  readonly sequence: number;
}

/** Everything one interval of one chiller leaves behind: stored in one transaction or not at all. */
export interface MinuteCommit {
  readonly chiller: string;
  /** Greater than every stored one of the chiller; by one, unless minutes were given up. */
  readonly sequence: number;
  /** End of the interval, ms since the epoch. */
  readonly time: number;
  /** The fold's state, JSON: what `loadState` gives back after a restart. */
  readonly state: string;
  /**
   * What was found, JSON: an object with, where present, `values` {name: number|null}, `uncertainty` {name: number},
   * `quality` {name: {quality, reason}} and `points` {name: number|null}; further keys are kept as they are.
   */
  readonly record: string;
  readonly messages: readonly Message[];
  readonly fast: readonly FastSamples[];
  readonly alarmEvents: readonly AlarmEvent[];
  /** Commands that this minute took in, by their ids; left out: none. */
  readonly commands?: readonly number[];
}

/** A command to an alarm as it came: understood, of a known chiller, and to be taken in by a minute. */
export interface CommandEntry {
  readonly chiller: string;
  /** ms since the epoch. */
  readonly received: number;
  readonly verb: string;
  readonly payload: string;
}

export interface StoredCommand extends CommandEntry {
  readonly id: number;
}

export interface CommitOutcome {
  /** Minutes committed by this call: this one, and those that waited. */
  readonly committed: number;
  /** Minutes that still wait in memory. */
  readonly pending: number;
}

export interface StoredState {
  readonly state: string;
  readonly sequence: number;
  readonly time: number;
}

export interface StoredRecord {
  readonly sequence: number;
  readonly time: number;
  readonly record: string;
}

/** Least, greatest and mean of what fell into one bucket; null where nothing did. `time`: end of the bucket, ms. */
export interface Bucket {
  readonly time: number;
  readonly least: number | null;
  readonly greatest: number | null;
  readonly mean: number | null;
}

export interface Trend {
  /** Width of the buckets, s: wider than asked where the bound of points says so; 0: every stored value. */
  readonly step_s: number;
  readonly buckets: readonly Bucket[];
}

/**
 * What asks for a trend: `name` is a metric or a point; `from` and `to` in ms, an interval counts by its end; `step_s`
 * 0 gives every value.
 */
export interface TrendQuery {
  readonly chiller: string;
  readonly name: string;
  readonly from: number;
  readonly to: number;
  readonly step_s: number;
}

/** Moments on the way of a minute or a command that a test may want to die at. */
export type Checkpoint = (
  name:
    | 'before_commit'
    | 'inside_transaction'
    | 'after_commit'
    | 'after_send'
    | 'after_acknowledge'
    | 'command_received'
    | 'command_stored',
) => void;

/** Bounds a test may lower; each defaults to its namesake in LIMITS. */
export interface HistoryLimits {
  readonly outbox_messages_max: number;
  readonly outbox_bytes_max: number;
  readonly minutes_kept_max: number;
  readonly fast_kept_s_max: number;
  readonly alarm_journal_rows_max: number;
  readonly history_pending_max: number;
  readonly history_pending_bytes_max: number;
}

export interface HistoryCounters {
  readonly commits: number;
  readonly commit_failures: number;
  readonly pending: number;
  /** Minutes given up because too many waited in memory. */
  readonly minutes_dropped: number;
  readonly read_failures: number;
  readonly files_put_aside: number;
}

export interface HistoryOptions {
  readonly folder: string;
  /** Names files put aside; ms since the epoch. */
  readonly now?: () => number;
  /** Told of what nobody asked for: a file put aside, a bound reached, a read that failed. */
  readonly report?: (fault: Fault) => void;
  readonly limits?: Partial<HistoryLimits>;
  readonly checkpoint?: Checkpoint;
  /** How a piece of work becomes one transaction; a test takes it out to show that it is needed. */
  readonly transaction?: Transaction;
}

/** What a transaction needs of a database. */
export interface Transactional {
  exec(sql: string): void;
  readonly isTransaction: boolean;
}

export type Transaction = (database: Transactional, work: () => void) => void;
