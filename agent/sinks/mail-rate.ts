/** How many mails may leave: so many an hour, a few of them at once. The clock may step back; it then stands still. */
export class MailRate {
  readonly max: number;
  readonly #refill_ms: number;
  #tokens: number;
  #at: number;

  constructor({ per_hour, now }: { readonly per_hour: number; readonly now: number }) {
    this.max = Math.max(1, Math.floor(per_hour / 2));
    this.#refill_ms = 3_600_000 / per_hour;
    this.#tokens = this.max;
    this.#at = now;
  }

  /** Mails allowed at `now` (ms), a fraction counted. */
  available(now: number): number {
    const gone = Math.max(0, now - this.#at);
    this.#tokens = Math.min(this.max, this.#tokens + gone / this.#refill_ms);
    this.#at = now;
    return this.#tokens;
  }

  take(now: number): void {
    this.available(now);
    this.#tokens -= 1;
  }

  /** Time until `count` may leave, ms. */
  wait_ms(count: number, now: number): number {
    return Math.max(0, (count - this.available(now)) * this.#refill_ms);
  }
}
