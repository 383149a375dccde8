/** Waiting with an end to it. */

/** Waits for `done`, but not longer than `ms`. */
export function within(ms: number, begin: (done: () => void) => void): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, ms);
    begin(() => {
      clearTimeout(timer);
      resolve();
    });
  });
}

/**
 * Pause before the next try, ms: doubles from try to try up to its bound; half of it is chance, so that many gateways
 * do not return at one moment.
 */
export function backoffMs(
  attempts: number,
  { backoff_ms_min, backoff_ms_max }: { backoff_ms_min: number; backoff_ms_max: number },
  random: () => number,
): number {
  return Math.min(backoff_ms_max, backoff_ms_min * 2 ** Math.min(attempts, 20)) * (0.5 + 0.5 * random());
}

/** Calls `late` once something has been awaited for `ms` without a sign of life. */
export class Watchdog {
  readonly #ms: number;
  readonly #late: () => void;
  #timer: NodeJS.Timeout | null = null;

  constructor(ms: number, late: () => void) {
    this.#ms = ms;
    this.#late = late;
  }

  /** Whether there is something to wait for. */
  watch(awaiting: boolean): void {
    if (!awaiting && this.#timer !== null) {
      clearTimeout(this.#timer);
      this.#timer = null;
    }
    if (awaiting && this.#timer === null)
      this.#timer = setTimeout(() => {
        this.#timer = null;
        this.#late();
      }, this.#ms);
  }

  signOfLife(): void {
    this.#timer?.refresh();
  }
}
