/** One oscillation of one signal on an even grid: period, amplitude, regularity, index. All in samples here. */
import { autocorrelation, decayRatio, regularity } from './autocorrelation.ts';
import { candidatePeriods } from './candidates.ts';
import { RULES } from './rules.ts';
import { mean, median, movingMean, quantile, rms, spread } from './statistics.ts';
import type { Estimate } from './types.ts';

export interface Oscillation {
  readonly period: Estimate;
  readonly amplitude: Estimate;
  readonly r: number;
  readonly R: number;
  /** 0 to 1: root of r/(1 + r) times R times evenness of the amplitudes. */
  readonly index: number;
  readonly sustained: boolean;
  /** The signal without drift, noise smoothed a little, without the half period at each end. */
  readonly filtered: Float64Array;
  /** Index of the first value of `filtered` in the signal. */
  readonly offset: number;
  readonly halves: readonly HalfCycle[];
}

/** Between two zero crossings of the filtered signal; samples. */
export interface HalfCycle {
  readonly from: number;
  readonly to: number;
  readonly amplitude: number;
}

/**
 * What is left of a signal around one period: less its mean over a period (which takes off level, drift and slow
 * swings and leaves the oscillation whole), averaged over an eighth of the period. Half a period is lost at each end.
 */
export function around(values: Float64Array, period: number, smoothing = 8): { values: Float64Array; offset: number } {
  const width = Math.max(2, Math.round(period));
  const base = movingMean(values, width);
  const rest = values.map((value, i) => value - (base[i] as number));
  const fine = Math.round(period / smoothing);
  const smooth = fine >= 2 ? movingMean(rest, fine) : rest;
  const offset = Math.min(Math.ceil(width / 2), Math.floor(values.length / 4));
  return { values: smooth.subarray(offset, values.length - offset), offset };
}

/**
 * What is found of the amplitude of a sine: the mean over a whole number of samples is not quite over its period, the
 * average over an eighth flattens it, and so do the trapezia of the area, w / 2 x cot(w / 2) with w per sample.
 */
function attenuation(period: number): number {
  const angle = Math.PI / period;
  const kept = (width: number): number => {
    if (width < 2) return 1;
    // An even width counts its outermost samples half.
    return Math.sin(width * angle) / (width * (width % 2 === 1 ? Math.sin(angle) : Math.tan(angle)));
  };
  const trapezia = angle / Math.tan(angle);
  return (1 - kept(Math.max(2, Math.round(period)))) * kept(Math.round(period / 8)) * trapezia;
}

/**
 * Half-cycles between zero crossings; a swing that does not leave `dead` on the other side is no crossing. Amplitude
 * A = pi IAE / T with T twice the half-cycle (from Hagglund 1995, Control Eng. Practice 3, 1543-1551): the sine of the
 * same area.
 */
export function halfCycles(values: Float64Array, dead: number): HalfCycle[] {
  const crossings: number[] = [];
  let side = 0;
  let last = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i] as number;
    if (i > 0) {
      const before = values[i - 1] as number;
      if (before !== value && ((before > 0 && value <= 0) || (before < 0 && value >= 0)))
        last = i - 1 + before / (before - value);
    }
    if (Math.abs(value) <= dead) continue;
    const now = Math.sign(value);
    if (side !== 0 && now !== side) crossings.push(last);
    side = now;
  }
  const halves: HalfCycle[] = [];
  for (let i = 1; i < crossings.length; i++) {
    const [from, to] = [crossings[i - 1] as number, crossings[i] as number];
    halves.push({ from, to, amplitude: (Math.PI * area(values, from, to)) / (2 * (to - from)) });
  }
  return halves;
}

/** Integral of |value| between two crossings, by trapezia; the crossings themselves are zeros. */
function area(values: Float64Array, from: number, to: number): number {
  let sum = 0;
  let [at, height] = [from, 0];
  for (let i = Math.ceil(from); i <= Math.floor(to); i++) {
    const value = Math.abs(values[i] as number);
    sum += ((height + value) / 2) * (i - at);
    [at, height] = [i, value];
  }
  return sum + (height / 2) * (to - at);
}

/** Values beyond thrice the median magnitude are drawn in, so that one load step does not stand for the whole. */
function drawnIn(values: Float64Array): Float64Array {
  const most = 3 * median(values.map(Math.abs));
  return most === 0 ? values : values.map((value) => Math.max(-most, Math.min(most, value)));
}

function isSustained(values: Float64Array, halves: readonly HalfCycle[]): boolean {
  const typical = quantile(
    halves.map((half) => half.amplitude),
    0.75,
  );
  const full = halves.filter((half) => half.amplitude >= 0.5 * typical).length;
  const third = Math.floor(values.length / 3);
  const whole = rms(values);
  const parts = [0, 1, 2].map((i) => rms(values.subarray(i * third, (i + 1) * third)));
  return full >= RULES.sustained * halves.length && Math.min(...parts) >= RULES.third * whole;
}

/**
 * A limit cycle swings about as far each time; a loop that noise keeps stirring swings at its own pace too, but by
 * chance: its amplitudes scatter by half of their mean (Rayleigh: 0.52).
 */
function evenness(halves: readonly HalfCycle[]): number {
  const amplitudes = halves.map(({ amplitude }) => amplitude);
  return 1 / (1 + (spread(amplitudes) / mean(amplitudes) / RULES.uneven) ** 2);
}

/** The oscillation near a candidate period; null where the signal does not swing there often enough. */
export function oscillationNear(values: Float64Array, candidate: number): Oscillation | null {
  let period = candidate;
  for (let round = 0; round < 3; round++) {
    const { values: filtered, offset } = around(values, period);
    const clipped = drawnIn(filtered);
    const acf = autocorrelation(clipped, Math.min(Math.ceil(6 * period), Math.floor(0.65 * filtered.length)));
    const found = regularity(acf);
    if (found === null || found.period < candidate / 2 || found.period > candidate * 2) return null;
    const near = Math.abs(found.period / period - 1) < 0.04;
    if (!near && round < 2) {
      period = found.period;
      continue;
    }
    const halves = halfCycles(filtered, 0.25 * Math.SQRT2 * rms(clipped));
    if (halves.length < RULES.periods) return null;
    const r = found.r;
    const R = Math.min(1, decayRatio(acf));
    return {
      ...estimates(halves, found.period, values),
      r,
      R,
      index: Math.sqrt((Number.isFinite(r) ? r / (1 + r) : 1) * R * evenness(halves)),
      sustained: isSustained(clipped, halves),
      filtered,
      offset,
      halves,
    };
  }
  return null;
}

/**
 * Uncertainties (k = 2) are statistical: for the amplitude the scatter of the half-cycles over the root of their number
 * and a part of the noise's share; for the period see `periodError`. What a sensor's slope error does to the amplitude
 * is not in them.
 */
function estimates(
  halves: readonly HalfCycle[],
  acfPeriod: number,
  values: Float64Array,
): Pick<Oscillation, 'period' | 'amplitude'> {
  const amplitudes = halves.map((half) => half.amplitude);
  const kept = attenuation(acfPeriod);
  const found = mean(amplitudes) / kept;
  const share = noiseShare(values, acfPeriod, found);
  return {
    period: { value: acfPeriod, uncertainty: 2 * periodError(halves) },
    amplitude: {
      value: found * (1 - share / 2),
      // What was taken off for the noise is known to a quarter of itself (simulated).
      uncertainty: 2 * Math.hypot(spread(amplitudes) / Math.sqrt(amplitudes.length) / kept, (found * share) / 8),
    },
  };
}

/**
 * Standard uncertainty of the mean period from whole cycles. Cycles that truly differ scatter independently and count
 * by the root of their number; crossings that noise moves lengthen one cycle and shorten the next, and count by the
 * number itself. The covariance of neighbours tells them apart. The autocorrelation reads fewer cycles than there are:
 * it scatters by about the root of two more (simulated). Half a sample at both ends is added.
 */
function periodError(halves: readonly HalfCycle[]): number {
  let [own, next, count] = [0, 0, 0];
  for (const parity of [0, 1]) {
    const starts = halves.filter((_, i) => i % 2 === parity).map(({ from }) => from);
    const cycles = starts.slice(1).map((at, i) => at - (starts[i] as number));
    const middle = mean(cycles);
    const off = cycles.map((cycle) => cycle - middle);
    own += mean(off.map((each) => each * each)) / 2;
    next += mean(off.slice(1).map((each, i) => each * (off[i] as number))) / 2;
    count += cycles.length / 2;
  }
  const n = Math.max(2, count);
  const wander = Math.max(0, own + 2 * next) / (n - 1);
  const jitter = Math.max(0, -next) / n ** 2;
  return Math.sqrt(2 * wander + 2 * jitter + 1 / 6 / n ** 2);
}

/**
 * Variance of the noise left in the filtered signal over the amplitude squared. Noise makes the area of a swing larger
 * by half of this part (near its zeros it always adds). From second differences, less what the swing itself has there.
 */
function noiseShare(values: Float64Array, period: number, amplitude: number): number {
  const bend = 2 - 2 * Math.cos((2 * Math.PI) / period);
  const variance = Math.max(0, (bends(values) - (amplitude * bend) ** 2 / 2) / 6);
  const left = variance / Math.max(1, Math.round(period / 8));
  return amplitude > 0 ? Math.min(0.25, left / amplitude ** 2) : 0;
}

/** Mean square of the second differences, without the largest hundredth (jumps). */
function bends(values: Float64Array): number {
  const squares: number[] = [];
  for (let i = 2; i < values.length; i++)
    squares.push(((values[i] as number) - 2 * (values[i - 1] as number) + (values[i - 2] as number)) ** 2);
  const most = quantile(squares, 0.99);
  return mean(squares.map((square) => Math.min(square, most)));
}

/** The most regular oscillation with a period between the two (samples), among those of the strongest peaks. */
export function strongest(values: Float64Array, shortest: number, longest: number): Oscillation | null {
  let best: Oscillation | null = null;
  for (const candidate of candidatePeriods(values, shortest, longest)) {
    const found = oscillationNear(values, candidate);
    if (found === null || found.period.value < 0.9 * shortest || found.period.value > 1.1 * longest) continue;
    if (best === null || weight(found) > weight(best)) best = found;
  }
  return best;
}

function weight({ index, amplitude, sustained }: Oscillation): number {
  return amplitude.value * index ** 2 * (sustained ? 1 : 0.5);
}
