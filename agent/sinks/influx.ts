/**
 * Drains the outbox to a time-series store over HTTP: one write at a time, of the oldest minutes, settled by its
 * answer.
 *
 *     outbox --oldest--> [ batch ] --write--> taken:   settled, the next at once
 *                                             refused: each minute by itself; given up is only what the store refuses
 *                                                      while it takes others
 *                                             else:    kept; the same again after a pause
 *
 * So the store's own pace is the back-pressure, back-fill goes in order, and a minute may be written twice, as the same
 * points.
 */
import type { QueuedMessage } from '../base/delivery.ts';
import type { ErrorCode } from '../base/errors.ts';
import { LIMITS } from '../base/limits.ts';
import type { Fault, Result } from '../base/result.ts';
import { askedPauseMs, codeOf, said, type Verdict, verdictOf } from './influx-answers.ts';
import { linesOf } from './influx-lines.ts';
import { checkOptions, type InfluxLimits, type InfluxOptions, shownAddress } from './influx-options.ts';
import { InfluxWriter } from './influx-request.ts';
import { sinkStatus } from './standing.ts';
import type { Sink, SinkStatus } from './types.ts';
import { backoffMs, within } from './waiting.ts';

const SINK = 'influx';

interface Apart {
  readonly taken: number;
  readonly refused: readonly Entry[];
  readonly failure: Failure | null;
}

interface Entry {
  readonly message: QueuedMessage;
  readonly lines: string;
}

/** What one write came to; `pause_ms` is what the far end asked for. */
type Outcome =
  | { readonly verdict: 'taken' }
  | { readonly verdict: Exclude<Verdict, 'taken'>; readonly fault: Fault; readonly pause_ms: number };
type Failure = Exclude<Outcome, { verdict: 'taken' }>;

export class InfluxSink implements Sink {
  readonly #options: InfluxOptions;
  readonly #limits: InfluxLimits;
  readonly #now: () => number;
  #writer: InfluxWriter | null = null;
  #state: SinkStatus['state'] = 'stopped';
  #since: number;
  #fault: Fault | null = null;
  #batch_max: number;
  #attempts = 0;
  /** Answers 500 in a row. */
  #failures = 0;
  #under = 0;
  #draining: Promise<void> | null = null;
  #retryTimer: NodeJS.Timeout | null = null;
  #stopping: Promise<void> | null = null;
  /** A gap record keeps the stamp of its first try. */
  readonly #gapTimes = new Map<number, number>();
  readonly #counters = { writes: 0, failed: 0, lines: 0, bytes: 0 };

  constructor(options: InfluxOptions) {
    this.#options = options;
    this.#limits = { ...LIMITS, ...options.limits };
    this.#now = options.now ?? Date.now;
    this.#since = this.#now();
    this.#batch_max = this.#limits.influx_batch_messages_max;
  }

  init(): Result<void> {
    return checkOptions(this.#options);
  }

  start(): void {
    if (this.#state !== 'stopped' || this.#stopping !== null) return;
    this.#writer = new InfluxWriter(this.#options);
    this.#enter('connecting', null);
    this.wake();
  }

  /** Lets the write under way be answered, for a moment; what it held stays in the outbox otherwise. */
  stop(): Promise<void> {
    this.#stopping ??= this.#end();
    return this.#stopping;
  }

  wake(): void {
    if (this.#writer === null || this.#draining !== null || this.#retryTimer !== null || this.#stopping !== null)
      return;
    this.#draining = this.#drain().finally(() => {
      this.#draining = null;
    });
  }

  status(): SinkStatus {
    const standing = { state: this.#state, since: this.#since, fault: this.#fault, in_flight: this.#under };
    const counts = this.#options.outbox.counts(SINK);
    return sinkStatus({ ...standing, counters: this.#counters }, counts);
  }

  #enter(state: SinkStatus['state'], fault: Fault | null): void {
    if (state !== this.#state) this.#since = this.#now();
    this.#state = state;
    this.#fault = fault;
  }

  async #drain(): Promise<void> {
    // What was committed in this turn comes along, and the caller of `wake` is not held up.
    await new Promise((resolve) => setImmediate(resolve));
    while (this.#stopping === null) {
      const batch = this.#take();
      if (batch.length === 0 && this.#state === 'connected') return;
      const failure = batch.length === 0 ? await this.#ask() : await this.#settle(batch, await this.#write(batch));
      if (failure === null) continue;
      this.#later(failure);
      return;
    }
  }

  /** With nothing to write: whether the far end is there. What it thinks of a minute shows with the first. */
  async #ask(): Promise<Failure | null> {
    const answer = await (this.#writer as InfluxWriter).ping(this.#limits.influx_answer_ms_max);
    if (answer.kind === 'none') return this.#unreachable(answer.reason);
    this.#well();
    return null;
  }

  /** The oldest minutes, as many as one write may hold. */
  #take(): Entry[] {
    const batch: Entry[] = [];
    let bytes = 0;
    for (const message of this.#options.outbox.oldest(SINK, this.#batch_max)) {
      const lines = linesOf(message, this.#options, this.#gapTime(message));
      if (lines === null) {
        this.#giveUp(message, 'is not one that this version of the agent can read');
        continue;
      }
      bytes += Buffer.byteLength(lines) + 1;
      if (batch.length > 0 && bytes > this.#limits.influx_batch_bytes_max) break;
      batch.push({ message, lines });
    }
    return batch;
  }

  #gapTime({ id, payload }: QueuedMessage): number {
    if (!payload.startsWith('{"gap"')) return 0;
    const time = this.#gapTimes.get(id) ?? this.#now();
    this.#gapTimes.set(id, time);
    return time;
  }

  async #write(batch: readonly Entry[]): Promise<Outcome> {
    const body = batch.map(({ lines }) => lines).join('\n');
    this.#under = batch.length;
    this.#counters.writes++;
    const answered = (this.#writer as InfluxWriter).write(body, this.#limits.influx_answer_ms_max);
    if (this.#options.checkpoint !== undefined) setImmediate(() => this.#options.checkpoint?.('after_send'));
    const answer = await answered;
    this.#under = 0;
    if (answer.kind === 'none') return this.#unreachable(answer.reason);
    const { status, words } = answer;
    const verdict = verdictOf(status, words);
    this.#failures = verdict === 'failed' ? this.#failures + 1 : 0;
    if (verdict === 'taken') {
      this.#counters.lines += body.split('\n').length;
      this.#counters.bytes += Buffer.byteLength(body);
      this.#options.checkpoint?.('after_acknowledge');
      return { verdict };
    }
    const fault = this.#faultOf(codeOf(status), said(status, words));
    return { verdict, fault, pause_ms: askedPauseMs(answer.retry_after, this.#now()) };
  }

  #unreachable(reason: string): Failure {
    const fault = this.#faultOf('influx_unreachable', `cannot be reached: ${reason}`);
    return { verdict: 'later', fault, pause_ms: 0 };
  }

  #faultOf(code: ErrorCode, what: string): Fault {
    this.#counters.failed++;
    return { code, message: `${shownAddress(this.#options)} ${what}` };
  }

  /** Null: go on at once. Otherwise why not, and everything that is not settled is kept. */
  async #settle(batch: readonly Entry[], outcome: Outcome): Promise<Failure | null> {
    if (outcome.verdict === 'taken') {
      this.#accept(batch);
      this.#well();
      this.#batch_max = Math.min(2 * this.#batch_max, this.#limits.influx_batch_messages_max);
      return null;
    }
    const [first] = batch;
    const alone = batch.length === 1 && first !== undefined;
    if (outcome.verdict === 'too large') {
      if (alone) this.#giveUp(first.message, said(413, ''));
      this.#batch_max = Math.max(1, Math.ceil(batch.length / 2));
      return null;
    }
    if (outcome.verdict === 'later') return outcome;
    if (outcome.verdict === 'failed' && this.#failures < this.#limits.influx_refusals_max) return outcome;
    if (!alone) return this.#oneByOne(batch);
    if (outcome.verdict !== 'partly') return outcome;
    this.#giveUp(first.message, outcome.fault.message);
    return null;
  }

  /** A store that refuses a minute of a batch while it takes others, before it and after it, refuses it for good. */
  async #oneByOne(batch: readonly Entry[]): Promise<Failure | null> {
    const first = await this.#apart(batch, false);
    this.#failures = 0;
    if (first.taken === 0) return first.failure;
    this.#well();
    if (first.failure?.verdict === 'later') return first.failure;
    // what was refused before the store began to take any was perhaps refused for its trouble of then
    const again = await this.#apart(first.refused, true);
    this.#failures = 0;
    return again.failure?.verdict === 'later' ? again.failure : null;
  }

  /** Each by itself. `last`: what is refused now is given up. */
  async #apart(batch: readonly Entry[], last: boolean): Promise<Apart> {
    const refused: Entry[] = [];
    let [taken, failure]: [number, Failure | null] = [0, null];
    for (const entry of batch) {
      if (this.#stopping !== null) break;
      const outcome = await this.#write([entry]);
      if (outcome.verdict === 'taken') {
        taken++;
        this.#accept([entry]);
        continue;
      }
      failure = outcome;
      if (outcome.verdict === 'later') break;
      const sure = last || outcome.verdict === 'partly' || outcome.verdict === 'too large';
      if (sure) this.#giveUp(entry.message, outcome.fault.message);
      else refused.push(entry);
    }
    return { taken, refused, failure };
  }

  #accept(batch: readonly Entry[]): void {
    const ids = batch.map(({ message }) => message.id);
    for (const id of ids) this.#gapTimes.delete(id);
    this.#options.outbox.settleAll(ids, 'accept');
  }

  #giveUp({ id, chiller, sequence }: QueuedMessage, why: string): void {
    this.#gapTimes.delete(id);
    this.#options.outbox.settle(id, 'reject');
    const message = `minute ${sequence} of ${chiller} is given up, the history keeps it: ${why}`;
    this.#options.report?.({ code: 'influx_refused', message });
  }

  #well(): void {
    this.#attempts = 0;
    this.#enter('connected', null);
  }

  #later({ fault, pause_ms }: Failure): void {
    if (this.#stopping !== null) return;
    // The same trouble is told once, not at each try.
    if (this.#state !== 'lost' || this.#fault?.code !== fault.code) this.#options.report?.(fault);
    this.#enter('lost', fault);
    const pause = backoffMs(this.#attempts, this.#limits, this.#options.random ?? Math.random);
    this.#attempts++;
    this.#retryTimer = setTimeout(
      () => {
        this.#retryTimer = null;
        this.wake();
      },
      Math.max(pause, Math.min(pause_ms, this.#limits.influx_pause_ms_max)),
    );
  }

  async #end(): Promise<void> {
    if (this.#retryTimer !== null) clearTimeout(this.#retryTimer);
    this.#retryTimer = null;
    const draining = this.#draining;
    if (draining !== null) await within(this.#limits.influx_farewell_ms_max, (done) => void draining.then(done, done));
    this.#writer?.close();
    await draining;
    this.#writer = null;
    this.#enter('stopped', null);
  }
}
