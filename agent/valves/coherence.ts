/** How two signals move together around one period, and which moves first. */
import { around } from './oscillation.ts';

export interface Together {
  /** Squared coherence over segments of a few periods each: 1 is one moving with the other, noise gives about 1/n. */
  readonly coherence: number;
  /** By how much of a period the second follows the first, -0.5 to 0.5. */
  readonly lag: number;
  /** Amplitudes of both at the period. */
  readonly amplitudes: readonly [number, number];
}

/** Segments are three periods long, overlapping by half: ten periods give five of them. */
const SEGMENT = 3;

/** `period` in samples; null where there are fewer than four segments. */
export function together(first: Float64Array, second: Float64Array, period: number): Together | null {
  const a = around(first, period, Number.POSITIVE_INFINITY).values;
  const b = around(second, period, Number.POSITIVE_INFINITY).values;
  const n = Math.min(a.length, b.length);
  const length = Math.min(n, Math.round(SEGMENT * period));
  const hop = Math.max(1, Math.floor(length / 2));
  const omega = (2 * Math.PI) / period;
  let [paa, pbb, re, im, count] = [0, 0, 0, 0, 0];
  for (let from = 0; from + length <= n; from += hop) {
    const [ar, ai] = line(a, from, length, omega);
    const [br, bi] = line(b, from, length, omega);
    paa += ar * ar + ai * ai;
    pbb += br * br + bi * bi;
    re += ar * br + ai * bi;
    im += ai * br - ar * bi;
    count++;
  }
  if (count < 4) return null;
  const coherence = paa > 0 && pbb > 0 ? (re * re + im * im) / (paa * pbb) : 0;
  return {
    coherence,
    lag: Math.atan2(im, re) / (2 * Math.PI),
    amplitudes: [Math.sqrt(paa / count), Math.sqrt(pbb / count)],
  };
}

/** Hann-weighted Fourier line; its magnitude is the amplitude of a sine of that frequency. */
function line(values: Float64Array, from: number, length: number, omega: number): [number, number] {
  let [re, im, weights] = [0, 0, 0];
  for (let i = 0; i < length; i++) {
    const weight = 0.5 - 0.5 * Math.cos((2 * Math.PI * (i + 0.5)) / length);
    const value = weight * (values[from + i] as number);
    re += value * Math.cos(omega * (from + i));
    im -= value * Math.sin(omega * (from + i));
    weights += weight;
  }
  return [(2 * re) / weights, (2 * im) / weights];
}
