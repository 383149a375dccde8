/** Time as the edges see it; pure rooms get it as a value. */
export interface Clock {
  /** Wall clock, milliseconds since 1970-01-01T00:00:00Z. May step both ways. */
  now(): number;
  /** Monotonic milliseconds from an arbitrary origin. */
  monotonic(): number;
}
