/** The store of one agent: what a minute leaves behind in one transaction, and what others ask of it later. */

import type { Outbox } from '../base/delivery.ts';
import type { ErrorCode } from '../base/errors.ts';
import { LIMITS } from '../base/limits.ts';
import { type Fault, fail, ok, type Result } from '../base/result.ts';
import type { SteadyHour } from '../season/steady.ts';
import type { Sums } from '../season/sums.ts';
import type { Span } from '../season/zone.ts';
import { CommandQueue, markApplied } from './commands.ts';
import { EventReads } from './events.ts';
import { boundFast, fastSamples, writeFast } from './fast.ts';
import { boundJournal, journalBetween, openAlarms, writeEvents } from './journal.ts';
import { type MaintenanceEntry, type MaintenanceQuery, maintenanceBetween } from './maintenance.ts';
import { boundMinutes, latestMinute, minutesBetween, sequenceFault, writeMinute } from './minutes.ts';
import { type Opened, openStore, replaceStore } from './open.ts';
import { StoredOutbox } from './outbox.ts';
import { Pending } from './pending.ts';
import { closeHour, type SpansQuery, steadyHoursOf, sumsOfSpans } from './rollups.ts';
import { copyAside, loadState } from './state.ts';
import { faultCode, type Store, type StoreOptions } from './store.ts';
import { fastTrend, minuteTrend } from './trend.ts';
import type {
  CommitOutcome,
  FastQuery,
  FastStored,
  HistoryCounters,
  HistoryLimits,
  HistoryOptions,
  JournalEntry,
  MinuteCommit,
  StoredRecord,
  StoredState,
  Trend,
  TrendQuery,
} from './types.ts';

/**
 * Opens or makes the store of a folder. A damaged file is put aside, reported, and a new one started; a newer one is
 * refused.
 */
export function openHistory(options: HistoryOptions): Result<History> {
  const limits: HistoryLimits = { ...LIMITS, ...options.limits };
  const opened = openStore(options.folder, storeOptions(options));
  return opened.ok ? ok(new History(options, limits, opened.value)) : opened;
}

function storeOptions(options: HistoryOptions): StoreOptions & { now: number } {
  return { now: (options.now ?? Date.now)(), transaction: options.transaction };
}

export class History {
  readonly events = new EventReads((what, query) => this.#read(what, query));
  readonly #options: HistoryOptions;
  readonly #limits: HistoryLimits;
  readonly #outbox: StoredOutbox;
  readonly #pending: Pending;
  /** Commands to alarms, until a minute takes them in. */
  readonly commands: CommandQueue;
  #store: Store;
  #commits = 0;
  #commit_failures = 0;
  #read_failures = 0;
  #files_put_aside = 0;
  #closed = false;

  constructor(options: HistoryOptions, limits: HistoryLimits, opened: Opened) {
    this.#options = options;
    this.#limits = limits;
    this.#store = opened.store;
    this.#pending = new Pending(limits);
    this.commands = new CommandQueue(() => this.#store, this.#pending);
    this.#outbox = new StoredOutbox(() => this.#store, limits, this.#report);
    this.#outbox.recount();
    this.#tellAside(opened);
  }

  /** The durable queue that sinks drain. */
  get outbox(): Outbox {
    return this.#outbox;
  }

  /**
   * Stores a minute: state, record, samples, alarm steps and outgoing messages in one transaction. Where the store
   * takes none (disk full and the like) the minute waits in memory, in order and bounded, the answer says why, and the
   * next call tries again: nothing of it is published before it is stored, and the caller goes on with its own state
   * and sequence.
   */
  commitMinute(minute: MinuteCommit): Result<CommitOutcome> {
    const dropped = this.#pending.add(minute);
    if (dropped > 0)
      this.#report({
        code: 'history_dropped',
        message: `${this.#pending.dropped} minutes given up while the store took none; a gap record will say which`,
      });
    return this.retry();
  }

  /** Commits what waits, oldest first, at most a bounded number at once. */
  retry(): Result<CommitOutcome> {
    let committed = 0;
    while (committed < LIMITS.history_commits_per_call_max) {
      const minute = this.#pending.first();
      if (minute === null) break;
      const fault = this.#commit(minute);
      if (fault !== null && fault.code !== 'history_sequence') return { ok: false, fault };
      this.#pending.removeFirst();
      // A number that is stored already would stand in the way of all that follow: it is refused for good.
      if (fault !== null) return { ok: false, fault };
      committed++;
    }
    return ok({ committed, pending: this.#pending.size });
  }

  loadState(chiller: string): Result<StoredState | null> {
    return this.#read('state', (store) => loadState(store, chiller));
  }

  /** Before the store is changed for good: a copy beside it, one a label. */
  copyAside(label: string): Result<string> {
    const { folder, now = Date.now } = this.#options;
    return copyAside(this.#store, { folder, label, now: now() });
  }

  latestRecord(chiller: string): Result<StoredRecord | null> {
    return this.#read('newest minute', (store) => latestMinute(store, chiller));
  }

  /** Trend of a metric, or of a point of the records. */
  series(query: TrendQuery): Result<Trend> {
    return this.#read('minutes', (store) => minuteTrend(store, query));
  }

  fastSeries(query: TrendQuery): Result<Trend> {
    return this.#read('fast samples', (store) => fastTrend(store, query));
  }

  /** What is stored of a fast point, sample by sample. */
  fastSamples(query: FastQuery): Result<FastStored> {
    return this.#read('fast samples', (store) => fastSamples(store, query));
  }

  /**
   * Every stored minute of a span in order, as it came; for exports and roll-ups. Ask for a bounded span: a block at a
   * time is in memory.
   */
  minutes(query: { chiller: string; from: number; to: number }): Generator<StoredRecord> {
    return minutesBetween(this.#store, query);
  }

  /** Sums of consecutive spans, for seasons. */
  seasonSums(query: SpansQuery): Result<Sums[]> {
    return this.#read('hours', (store) => sumsOfSpans(store, query));
  }

  /** Whole hours of a steady machine, for its baseline. */
  steadyHours(query: Span & { readonly chiller: string }): Result<SteadyHour[]> {
    return this.#read('hours', (store) => steadyHoursOf(store, query));
  }

  /** What was done to a machine, oldest first. */
  maintenance(query: MaintenanceQuery): Result<MaintenanceEntry[]> {
    return this.#read('maintenance log', (store) => maintenanceBetween(store, query));
  }

  openAlarms(): Result<JournalEntry[]> {
    return this.#read('alarms', openAlarms);
  }

  /** Newest first. */
  alarmJournal(query: { chiller: string | null; from: number; to: number; count: number }): Result<JournalEntry[]> {
    return this.#read('alarm journal', (store) => journalBetween(store, query));
  }

  counters(): HistoryCounters {
    return {
      commits: this.#commits,
      commit_failures: this.#commit_failures,
      pending: this.#pending.size,
      minutes_dropped: this.#pending.dropped,
      read_failures: this.#read_failures,
      files_put_aside: this.#files_put_aside,
    };
  }

  /** Tries once more to store what waits, and closes the file. Idempotent. */
  close(): void {
    if (this.#closed) return;
    this.#closed = true;
    try {
      while (this.#pending.size > 0) if (!this.retry().ok) break;
      this.#outbox.removeSettled();
    } finally {
      this.#store.close();
    }
  }

  readonly #report = (fault: Fault): void => this.#options.report?.(fault);

  #checkpoint(name: 'before_commit' | 'inside_transaction' | 'after_commit'): void {
    this.#options.checkpoint?.(name);
  }

  #commit(minute: MinuteCommit): Fault | null {
    this.#checkpoint('before_commit');
    const undo = this.#outbox.mark();
    try {
      let stale = false;
      this.#store.transaction(() => {
        stale = !this.#write(minute);
      });
      if (stale) return sequenceFault(minute);
    } catch (error) {
      undo();
      this.#commit_failures++;
      return this.#commitFault(minute, error);
    }
    this.#commits++;
    this.#pending.lostAreStored(minute.chiller);
    this.#checkpoint('after_commit');
    return null;
  }

  /** False where the store has this number already. */
  #write(minute: MinuteCommit): boolean {
    const store = this.#store;
    const { chiller, sequence, time, state } = minute;
    const stored = store.get('SELECT sequence, time FROM state WHERE chiller = ?', chiller);
    if (stored !== undefined && Number(stored['sequence']) >= sequence) return false;
    if (stored !== undefined) closeHour(store, { chiller, last: Number(stored['time']), time });
    writeMinute(store, minute);
    writeFast(store, minute);
    writeEvents(store, minute);
    markApplied(store, minute, this.#pending.lostCommands(chiller));
    for (const lost of this.#pending.lost(chiller)) this.#outbox.appendLost(lost);
    this.#outbox.append(minute.messages);
    this.#checkpoint('inside_transaction');
    store.run(
      'INSERT OR REPLACE INTO state (chiller, sequence, time, state) VALUES (?, ?, ?, ?)',
      chiller,
      sequence,
      time,
      state,
    );
    boundMinutes(store, { chiller, kept_max: this.#limits.minutes_kept_max });
    boundFast(store, { chiller, time, kept_s: this.#limits.fast_kept_s_max });
    boundJournal(store, this.#limits.alarm_journal_rows_max);
    return true;
  }

  #commitFault(minute: MinuteCommit, error: unknown): Fault {
    const code = faultCode(error);
    if (code === null) throw error;
    if (code === 'history_corrupt') {
      const replaced = this.#replace();
      // The new file has none of what was stored: this minute goes into it at the next try, and its number is the next
      // one there.
      if (replaced !== null) return replaced;
    }
    return {
      code,
      message:
        `${minute.chiller} minute ${minute.sequence} not stored: ${(error as Error).message} (${this.#options.folder}); ` +
        `${this.#pending.size} minutes wait in memory`,
    };
  }

  /** A file that turned out damaged while open. */
  #replace(): Fault | null {
    this.#store.close();
    const opened = replaceStore(this.#options.folder, storeOptions(this.#options));
    if (!opened.ok) return opened.fault;
    this.#store = opened.value.store;
    this.#outbox.replaced();
    this.#pending.forgetCommands();
    this.#tellAside(opened.value);
    return null;
  }

  #tellAside({ aside, salvaged }: Opened): void {
    if (aside === null) return;
    this.#files_put_aside++;
    const kept = salvaged.length === 0 ? 'nothing of it could be read' : `state carried over: ${salvaged.join(', ')}`;
    this.#report({
      code: 'history_corrupt',
      message: `the store was damaged and is now ${aside}; a new one was started; ${kept}`,
    });
  }

  #read<T>(what: string, query: (store: Store) => T): Result<T> {
    try {
      return ok(query(this.#store));
    } catch (error) {
      const code: ErrorCode | null = faultCode(error);
      if (code === null) throw error;
      this.#read_failures++;
      return fail(code, `${what} not read: ${(error as Error).message} (${this.#options.folder})`);
    }
  }
}
