import type { Clock } from '../../base/clock.ts';
import type { Timers } from '../timers.ts';
import { type Endpoint, writeRegistration } from './network.ts';

export interface ForeignMeans {
  readonly clock: Clock;
  readonly timers: Timers;
  readonly send: (bytes: Uint8Array, to: Endpoint) => Promise<string | null>;
}

/**
 * Registration with a BBMD, which then passes broadcasts on to this socket; renewed at half its time to live for as
 * long as it is kept.
 */
export class ForeignRegistration {
  readonly #means: ForeignMeans;
  readonly #bbmd: Endpoint;
  readonly #ttlS: number;
  #goodUntil = Number.NEGATIVE_INFINITY;
  #renew: (() => void) | null = null;
  #waiting: { readonly promise: Promise<string | null>; readonly settle: (why: string | null) => void } | null = null;

  constructor(options: { means: ForeignMeans; bbmd: Endpoint; ttlS: number }) {
    this.#means = options.means;
    this.#bbmd = options.bbmd;
    this.#ttlS = options.ttlS;
  }

  /** Null when registered, else why not. */
  ensure(timeoutMs: number): Promise<string | null> {
    if (this.#means.clock.monotonic() < this.#goodUntil) return Promise.resolve(null);
    return this.#register(timeoutMs);
  }

  /** The BBMD's answer: 0 is success. */
  answered(code: number): void {
    this.#waiting?.settle(code === 0 ? null : `the BBMD refuses the registration (result ${code})`);
  }

  stop(): void {
    this.#renew?.();
    this.#renew = null;
    this.#goodUntil = Number.NEGATIVE_INFINITY;
    this.#waiting?.settle('stopped');
  }

  #register(timeoutMs: number): Promise<string | null> {
    if (this.#waiting !== null) return this.#waiting.promise;
    const { clock, timers, send } = this.#means;
    let settle = (_why: string | null): void => {};
    const promise = new Promise<string | null>((resolve) => {
      const take = timers.after(timeoutMs, () => settle(`the BBMD does not answer within ${timeoutMs} ms`));
      settle = (why) => {
        take();
        this.#waiting = null;
        this.#goodUntil = why === null ? clock.monotonic() + 1000 * this.#ttlS : Number.NEGATIVE_INFINITY;
        if (why === null) this.#renewLater(timeoutMs);
        resolve(why);
      };
    });
    this.#waiting = { promise, settle };
    void send(writeRegistration(this.#ttlS), this.#bbmd).then((why) => {
      if (why !== null && this.#waiting?.promise === promise) settle(`the BBMD cannot be reached: ${why}`);
    });
    return promise;
  }

  #renewLater(timeoutMs: number): void {
    this.#renew?.();
    this.#renew = this.#means.timers.after(500 * this.#ttlS, () => {
      void this.#register(timeoutMs);
    });
  }
}
