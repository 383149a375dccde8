/** Waiting, injected so that tests can let hours pass at once. `base/clock.ts` tells the time, this lets it pass. */
export interface Timers {
  /**
   * Calls `run` once after `ms` milliseconds (monotonic); the returned function takes it back and may be called at any
   * time.
   */
  after(ms: number, run: () => void): () => void;
}

export const systemTimers: Timers = {
  after(ms, run) {
    const handle = setTimeout(run, ms);
    return () => clearTimeout(handle);
  },
};
