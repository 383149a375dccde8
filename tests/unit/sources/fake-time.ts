import type { Clock } from '../../../agent/base/clock.ts';
import type { Timers } from '../../../agent/sources/timers.ts';

/** Time that passes only when a test says so. Timers run in order of their time, those set by timers included. */
export class FakeTime implements Clock, Timers {
  #now = 0;
  #epoch: number;
  #waiting: { at: number; run: () => void }[] = [];

  constructor(epoch = Date.UTC(2026, 0, 1)) {
    this.#epoch = epoch;
  }

  now(): number {
    return this.#epoch + this.#now;
  }

  monotonic(): number {
    return this.#now;
  }

  /** The wall clock is set, forward or back; the monotonic one is not. */
  stepWallClock(ms: number): void {
    this.#epoch += ms;
  }

  after(ms: number, run: () => void): () => void {
    const entry = { at: this.#now + ms, run };
    this.#waiting.push(entry);
    return () => {
      this.#waiting = this.#waiting.filter((other) => other !== entry);
    };
  }

  /** Timers that are set. */
  get waiting(): number {
    return this.#waiting.length;
  }

  /** Milliseconds to the next timer, or null. */
  get next(): number | null {
    return this.#waiting.length === 0 ? null : Math.min(...this.#waiting.map(({ at }) => at)) - this.#now;
  }

  advance(ms: number): void {
    const end = this.#now + ms;
    for (;;) {
      const due = this.#waiting.filter(({ at }) => at <= end).sort((a, b) => a.at - b.at)[0];
      if (due === undefined) break;
      this.#waiting = this.#waiting.filter((other) => other !== due);
      this.#now = Math.max(this.#now, due.at);
      due.run();
    }
    this.#now = end;
  }

  /** As `advance`, letting promises settle after each timer: for code that sets its next timer behind an await. */
  async pass(ms: number): Promise<void> {
    const end = this.#now + ms;
    await settled();
    while (this.next !== null && this.#now + this.next <= end) {
      this.advance(this.next);
      await settled();
    }
    this.advance(end - this.#now);
    await settled();
  }
}

/** Lets every promise that can settle without I/O settle. */
export async function settled(): Promise<void> {
  for (let i = 0; i < 5; i += 1) await new Promise((resolve) => setImmediate(resolve));
}

/** Waits for a condition that I/O brings about; the runner's own limit ends it if that never comes. */
export async function until(condition: () => boolean): Promise<void> {
  while (!condition()) await new Promise((resolve) => setImmediate(resolve));
}

/** Small seeded generator (mulberry32), uniform in [0, 1). */
export function seeded(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 0x1_0000_0000;
  };
}
