/**
 * Every threshold of the search for hunting, with its source. Those without one were chosen on synthetic loops alone
 * (tests/unit/valves/loops.ts) before the seeds of the evaluation were drawn.
 */
export const RULES = {
  /** New values per period, and periods in the window, below which nothing is said. */
  samples_per_period: 5,
  periods: 10,
  /** Crossings of the autocorrelation that are read: ten intervals (Thornhill, Huang & Zhang 2003, from memory). */
  crossings: 11,
  crossings_least: 6,
  /**
   * Index from which a loop is oscillating: with even amplitudes r = 1 and R = 0.5 give 0.5 (the thresholds of
   * Thornhill, Huang & Zhang 2003 and of Miao & Seborg 1999, from memory).
   */
  index: 0.5,
  /** Scatter of the amplitudes, part of their mean, that halves the square of the index. */
  uneven: 0.35,
  /** Part of the half-cycles that must reach half the typical amplitude, and each third's part of the whole's. */
  sustained: 0.7,
  third: 0.45,
  /** Amplitude in noise (standard deviations), and in steps of a coarse signal, from which it is believed. */
  over_noise: 1,
  over_quantum: 0.5,
  /** Holes longer than so many new values break the window. */
  hole: 6,
  /** Shape index: triangular above, sine below its mirror (He et al. 2007: 0.6 and 0.4). */
  triangular: 0.6,
  /** Score of sticking. */
  sticking: 0.6,
  /**
   * Correlation of output and flow below which the flow does not answer, and part of the error that must last for it to
   * be held against the valve. Chosen with the first ten of the recorded loops in view (tests/oracle/loops).
   */
  answers: 0.7,
  lasting: 0.4,
  /** Coherence (squared) from which two signals move together, over segments of the window. */
  coherence: 0.6,
  /** A driving valve moves at least this part of the stroke that the driven one moves. */
  driving: 0.5,
  /** A level swells against the pressure: so far apart, in periods (0.5: exactly opposite), at least. */
  opposite: 0.33,
  /** Part of the time at an end of its travel that makes a limit the cause. */
  at_limit: 0.15,
  /** Part of full stroke from an end that counts as at the end. */
  end_of_stroke: 0.02,
  /** Dead band between command and position, part of stroke, below which no friction is spoken of. */
  dead_band: 0.006,
  /** Part of the time that a sticking valve stands while its command moves on. */
  standing: 0.5,
  /** Range of position less command in jumps below which the positioner merely rounds (1; a sticking stem: 2). */
  rounding: 1.7,
  /** Part of the time that such a positioner stands. */
  still: 0.6,
  /** The set point's own swing at the period, part of the measured one's, from which the loop merely follows. */
  follows: 0.5,
} as const;
