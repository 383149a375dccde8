import type { Clock } from '../base/clock.ts';
import type { Timers } from './timers.ts';

/**
 * Calls `run` at the beats of a period, never twice at once: beats that pass while it still runs are skipped and
 * counted, not made up for. `run` may ask to be called before the next beat by returning the monotonic ms of it (a line
 * that may be tried again), else null.
 */
export class PollLoop {
  readonly #periodMs: number;
  readonly #run: () => Promise<number | null>;
  readonly #clock: Clock;
  readonly #timers: Timers;
  #beat = 0;
  #cancel: (() => void) | null = null;
  #running: Promise<void> = Promise.resolve();
  #stopped = true;
  skipped = 0;

  constructor(options: { periodMs: number; run: () => Promise<number | null>; clock: Clock; timers: Timers }) {
    this.#periodMs = options.periodMs;
    this.#run = options.run;
    this.#clock = options.clock;
    this.#timers = options.timers;
  }

  start(): void {
    this.#stopped = false;
    this.#beat = this.#clock.monotonic();
    this.#call();
  }

  /** No new call; resolves when the one under way has ended, which the caller must bring about. */
  async stop(): Promise<void> {
    this.#stopped = true;
    this.#cancel?.();
    this.#cancel = null;
    await this.#running;
  }

  #call(): void {
    this.#cancel = null;
    this.#running = this.#once();
  }

  async #once(): Promise<void> {
    const askedFor = await this.#run();
    if (this.#stopped) return;
    const now = this.#clock.monotonic();
    if (this.#beat <= now) {
      const missed = Math.floor((now - this.#beat) / this.#periodMs);
      this.skipped += missed;
      this.#beat += (missed + 1) * this.#periodMs;
    }
    const next = askedFor === null ? this.#beat : Math.min(this.#beat, Math.max(now, askedFor));
    this.#cancel = this.#timers.after(next - now, () => this.#call());
  }
}
