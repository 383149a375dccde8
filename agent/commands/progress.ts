/** A bar on a terminal: how far a long job is. Nothing where standard error is no terminal. */
import type { Writable } from 'node:stream';

const WIDTH = 24;
const EVERY_MS = 200;

export class Progress {
  readonly #out: Writable;
  readonly #now: () => number;
  readonly #shown: boolean;
  #began: number;
  #last = Number.NEGATIVE_INFINITY;
  #label = '';

  /** `now`: monotonic ms. */
  constructor(out: Writable, now: () => number) {
    this.#out = out;
    this.#now = now;
    this.#shown = (out as { isTTY?: boolean }).isTTY === true;
    this.#began = now();
  }

  /** A new part of the job. */
  begin(label: string): void {
    this.#label = label;
    this.#began = this.#now();
    this.#last = Number.NEGATIVE_INFINITY;
  }

  /** `share`: 0 to 1. */
  at(share: number, words: string): void {
    const now = this.#now();
    if (!this.#shown || now - this.#last < EVERY_MS) return;
    this.#last = now;
    const done = Math.min(1, Math.max(0, share));
    const filled = Math.round(done * WIDTH);
    const spent = (now - this.#began) / 1000;
    const left = done > 0.01 && spent > 2 ? `, ${duration((spent * (1 - done)) / done)} left` : '';
    const bar = `${'#'.repeat(filled)}${'.'.repeat(WIDTH - filled)}`;
    this.#out.write(`\r\x1b[K${this.#label} [${bar}] ${Math.floor(100 * done)} % ${words}${left}`);
  }

  /** Takes the bar away. */
  end(): void {
    if (this.#shown) this.#out.write('\r\x1b[K');
  }
}

export function duration(seconds: number): string {
  if (seconds < 90) return `${Math.round(seconds)} s`;
  const minutes = Math.round(seconds / 60);
  return minutes < 90 ? `${minutes} min` : `${(minutes / 60).toFixed(1)} h`;
}
