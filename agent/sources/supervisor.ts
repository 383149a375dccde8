/**
 * Starts and stops the sources of all chillers so that one of them never holds up another. Polling and its back-off are
 * each source's own.
 */
import type { Clock } from '../base/clock.ts';
import { LIMITS } from '../base/limits.ts';
import type { SampleSink, Source, SourceStatus } from '../points/types.ts';
import { Backoff } from './backoff.ts';
import type { SourceLog } from './log.ts';
import type { Timers } from './timers.ts';

export interface SupervisedSource {
  readonly chiller: string;
  readonly source: Source;
  readonly sink: SampleSink;
}

interface Charge extends SupervisedSource {
  readonly backoff: Backoff;
  /** Why it could not be started, with the time since when; null where it runs. */
  trouble: { readonly since: number; readonly reason: string } | null;
  cancel: (() => void) | null;
  starting: Promise<void>;
}

export class SourceSupervisor {
  readonly #charges: readonly Charge[];
  readonly #clock: Clock;
  readonly #timers: Timers;
  readonly #log: SourceLog;
  #stopped = false;

  constructor(options: {
    sources: readonly SupervisedSource[];
    clock: Clock;
    timers: Timers;
    random: () => number;
    log: SourceLog;
  }) {
    this.#clock = options.clock;
    this.#timers = options.timers;
    this.#log = options.log;
    this.#charges = options.sources.map((source) => ({
      ...source,
      backoff: new Backoff(options.random),
      trouble: null,
      cancel: null,
      starting: Promise.resolve(),
    }));
  }

  /**
   * Begins to start every source; one that cannot be started is tried again with a growing pause. Does not wait for any
   * of them.
   */
  start(): void {
    for (const charge of this.#charges) this.#start(charge);
  }

  /** Stops all at once; a source that takes longer than the bound is given up and named in the log. Never rejects. */
  async stop(): Promise<void> {
    this.#stopped = true;
    await Promise.all(this.#charges.map((charge) => this.#stop(charge)));
  }

  /** The link of every chiller, by its id. */
  status(): Record<string, SourceStatus> {
    return Object.fromEntries(this.#charges.map((charge) => [charge.chiller, this.#statusOf(charge)]));
  }

  #statusOf({ source, trouble }: Charge): SourceStatus {
    const status = source.status();
    return trouble === null ? status : { ...status, state: 'lost', ...trouble };
  }

  #start(charge: Charge): void {
    charge.cancel = null;
    charge.starting = this.#tryStart(charge);
  }

  async #tryStart(charge: Charge): Promise<void> {
    const { chiller, source, sink, backoff } = charge;
    try {
      await source.start(sink);
      backoff.succeeded();
      charge.trouble = null;
    } catch (error) {
      const now = this.#clock.monotonic();
      const reason = error instanceof Error ? error.message : String(error);
      const { retryAt } = backoff.failed(now, 'source_start', reason);
      if (charge.trouble === null)
        this.#log.warn({ chiller, code: 'source_start', reason }, 'source cannot be started');
      charge.trouble = { since: charge.trouble?.since ?? this.#clock.now(), reason };
      if (!this.#stopped) charge.cancel = this.#timers.after(retryAt - now, () => this.#start(charge));
    }
  }

  async #stop(charge: Charge): Promise<void> {
    const { chiller, source } = charge;
    charge.cancel?.();
    let take = (): void => {};
    const late = new Promise<'late'>((resolve) => {
      take = this.#timers.after(1000 * LIMITS.stop_s_max, () => resolve('late'));
    });
    try {
      // at once, to break off a start under way; and again behind it, so that nothing is left running
      const stopped = source.stop().then(() => charge.starting.then(() => source.stop()));
      const end = await Promise.race([stopped, late]);
      if (end === 'late') this.#log.warn({ chiller, code: 'source_stop' }, 'source did not stop in time');
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      this.#log.warn({ chiller, code: 'source_stop', reason }, 'source did not stop cleanly');
    } finally {
      take();
    }
  }
}
