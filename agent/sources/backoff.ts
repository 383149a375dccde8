import type { ErrorCode } from '../base/errors.ts';
import { LIMITS } from '../base/limits.ts';

/**
 * Pause before attempt number `failures` + 1, ms: doubles with each failure in a row between the bounds, and is spread
 * over its upper half so that clients that lost a gateway together do not come back together.
 */
export function backoffMs(failures: number, random: () => number): number {
  const high = Math.min(LIMITS.backoff_ms_max, LIMITS.backoff_ms_min * 2 ** Math.min(failures, 30));
  const low = Math.max(LIMITS.backoff_ms_min, high / 2);
  return low + random() * (high - low);
}

/** Why something does not work at present, and when it may be tried again. */
export interface Trouble {
  readonly code: ErrorCode;
  /** One phrase for a person. */
  readonly reason: string;
  /** Monotonic ms before which no new attempt is made. */
  readonly retryAt: number;
}

/** Failures in a row of one thing (a host, a unit), and the pause that follows from them. */
export class Backoff {
  #failures = 0;
  #trouble: Trouble | null = null;
  readonly #random: () => number;

  constructor(random: () => number) {
    this.#random = random;
  }

  /** Notes a failure at monotonic time `now`. */
  failed(now: number, code: ErrorCode, reason: string): Trouble {
    this.#failures += 1;
    this.#trouble = { code, reason, retryAt: now + backoffMs(this.#failures, this.#random) };
    return this.#trouble;
  }

  succeeded(): void {
    this.#failures = 0;
    this.#trouble = null;
  }

  /** The trouble that still forbids an attempt at monotonic time `now`, or null. */
  waiting(now: number): Trouble | null {
    return this.#trouble !== null && this.#trouble.retryAt > now ? this.#trouble : null;
  }
}
