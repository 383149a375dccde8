/** The waiting that the host of flows needs; the composition root hands it the real one. */
export interface Timers {
  after(ms: number, run: () => void): () => void;
}
