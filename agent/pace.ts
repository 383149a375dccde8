/**
 * When intervals end. Ends lie on the grid of the wall clock (minute 10:42:00, 10:43:00 ...). The clock can lie: a
 * gateway without a battery boots in the past, and a correction steps both ways. A time before the last interval or
 * before this program was written holds everything, and says so; a step forward is a gap in time, never a flood of
 * empty intervals.
 */
import type { Clock } from './base/clock.ts';
import { rfc3339 } from './base/time.ts';

/** No interval of this program can end before it was written. */
export const EARLIEST = 1_793_491_200_000; // 2026-11-01T00:00:00Z

/** The waiting the pace needs; `sources/timers.ts` has the real one. */
interface Timers {
  after(ms: number, run: () => void): () => void;
}

/** Longest single wait, so that a stepped clock is noticed soon. */
const LOOK_MS = 5000;

export interface Interval {
  /** ms since the epoch; `from` exclusive, `to` inclusive. */
  readonly from: number;
  readonly to: number;
  /**
   * Whole intervals that ended since the last call and get no record: the process was held up, or the clock stepped.
   */
  readonly missed: number;
}

export interface PaceOptions {
  readonly clock: Clock;
  readonly timers: Timers;
  readonly interval_s: number;
  /** Grid until the first interval has ended. */
  readonly first_interval_s: number;
  /** End of the last stored interval, ms; null where there is none. */
  readonly last: number | null;
  readonly onInterval: (interval: Interval) => void;
  /** Told once when the clock cannot be believed, and with null once it can again. */
  readonly onHeld: (reason: string | null) => void;
}

export class Pace {
  readonly #options: PaceOptions;
  #last: number | null;
  #began: number | null = null;
  #ended = 0;
  #cancel: (() => void) | null = null;
  #stopped = false;
  #heldSaid = false;

  constructor(options: PaceOptions) {
    this.#options = options;
    this.#last = options.last;
  }

  start(): void {
    this.#schedule();
  }

  stop(): void {
    this.#stopped = true;
    this.#cancel?.();
  }

  /** Why no interval can end now, one sentence; null where all is well. */
  held(): string | null {
    const now = this.#options.clock.now();
    if (now < EARLIEST)
      return `the clock says ${rfc3339(now)}, before this program was written: set it (NTP), minutes wait until then`;
    if (this.#last !== null && now < this.#last)
      return `the clock says ${rfc3339(now)}, before the last minute ${rfc3339(this.#last)}: minutes wait until then (if that one was wrong, start on a new history folder)`;
    return null;
  }

  #grid(): number {
    const { interval_s, first_interval_s } = this.#options;
    return 1000 * (this.#ended === 0 ? Math.min(first_interval_s, interval_s) : interval_s);
  }

  #schedule(): void {
    if (this.#stopped) return;
    const { clock, timers } = this.#options;
    const now = clock.now();
    const reason = this.held();
    const held = reason !== null;
    if (held !== this.#heldSaid) this.#options.onHeld(reason);
    this.#heldSaid = held;
    // An interval begins when the clock can first be believed, not before; a clock that ran ahead at the start and was
    // set back since would otherwise be waited for in silence, however far ahead it was.
    if (!held && (this.#began === null || now < this.#began)) this.#began = now;
    const wait = held ? LOOK_MS : Math.min(LOOK_MS, this.#end(now) - now);
    this.#cancel = timers.after(Math.max(1, wait), () => this.#look());
  }

  /** End of the interval that is running at `now`. */
  #end(now: number): number {
    const grid = this.#grid();
    const after = Math.max(this.#last ?? Number.NEGATIVE_INFINITY, this.#began ?? now);
    // Not (after, now]: an interval that is over is due at once.
    return (Math.floor(after / grid) + 1) * grid;
  }

  #look(): void {
    const now = this.#options.clock.now();
    if (this.held() === null && this.#began !== null) {
      const grid = this.#grid();
      const due = this.#end(now);
      if (now >= due) {
        const to = Math.floor(now / grid) * grid;
        const from = Math.max(this.#began, this.#last ?? Number.NEGATIVE_INFINITY, to - grid);
        const missed = Math.round((to - due) / grid);
        this.#last = to;
        this.#ended += 1;
        this.#options.onInterval({ from, to, missed });
      }
    }
    this.#schedule();
  }
}
