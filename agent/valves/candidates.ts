/** Periods worth a closer look: peaks of the spectrum, weighted by frequency so that drift does not hide them. */
import { mean } from './statistics.ts';

const PEAKS = 4;

/** Least-squares line taken off, then a Hann window. */
function prepared(values: Float64Array): Float64Array {
  const n = values.length;
  const middle = mean(values);
  const centre = (n - 1) / 2;
  let [products, squares] = [0, 0];
  for (let i = 0; i < n; i++) {
    products += (i - centre) * ((values[i] as number) - middle);
    squares += (i - centre) ** 2;
  }
  const slope = squares === 0 ? 0 : products / squares;
  return values.map(
    (value, i) => (value - middle - slope * (i - centre)) * (0.5 - 0.5 * Math.cos((2 * Math.PI * (i + 0.5)) / n)),
  );
}

/** Power of one frequency (cycles per sample) by Goertzel's recurrence. */
function power(values: Float64Array, frequency: number): number {
  const c = 2 * Math.cos(2 * Math.PI * frequency);
  let [s1, s2] = [0, 0];
  for (const value of values) {
    const s = value + c * s1 - s2;
    s2 = s1;
    s1 = s;
  }
  return Math.max(0, s1 * s1 + s2 * s2 - c * s1 * s2);
}

/**
 * Periods in samples between `shortest` and `longest`, strongest first, at most four. Steps of the search grow with
 * frequency: fine enough for a regular oscillation of the window, bounded for a long one.
 */
export function candidatePeriods(values: Float64Array, shortest: number, longest: number): number[] {
  const n = values.length;
  const x = prepared(values);
  const [low, high] = [(0.8 * n) / longest, Math.min(n / 2, (1.2 * n) / shortest)];
  const cycles: number[] = [];
  for (let k = low; k <= high; k += Math.max(0.5, k / 60)) cycles.push(k);
  const weights = cycles.map((k) => power(x, k / n) * k);
  const peaks: { readonly k: number; readonly weight: number }[] = [];
  for (let i = 1; i + 1 < cycles.length; i++) {
    const [a, b, c] = [weights[i - 1] as number, weights[i] as number, weights[i + 1] as number];
    if (b < a || b <= c) continue;
    // Vertex of the parabola through the three.
    const bend = a - 2 * b + c;
    const shift = bend === 0 ? 0 : (a - c) / (2 * bend);
    const step = (cycles[i + 1] as number) - (cycles[i] as number);
    peaks.push({ k: (cycles[i] as number) + shift * step, weight: b });
  }
  peaks.sort((one, other) => other.weight - one.weight);
  const chosen: number[] = [];
  for (const { k } of peaks) {
    if (chosen.length === PEAKS) break;
    const period = n / k;
    if (period < shortest || period > longest) continue;
    if (chosen.every((other) => Math.abs(Math.log(other / period)) > 0.18)) chosen.push(period);
  }
  return chosen;
}
