/** Small statistics over columns. */

type Numbers = Float64Array | readonly number[];

export function mean(values: Numbers): number {
  let sum = 0;
  for (const value of values) sum += value;
  return values.length === 0 ? 0 : sum / values.length;
}

/** Standard deviation with n - 1. */
export function spread(values: Numbers): number {
  if (values.length < 2) return 0;
  const middle = mean(values);
  let sum = 0;
  for (const value of values) sum += (value - middle) ** 2;
  return Math.sqrt(sum / (values.length - 1));
}

export function rms(values: Numbers): number {
  let sum = 0;
  for (const value of values) sum += value * value;
  return values.length === 0 ? 0 : Math.sqrt(sum / values.length);
}

export function quantile(values: Numbers, share: number): number {
  if (values.length === 0) return Number.NaN;
  const sorted = Float64Array.from(values).sort();
  const at = share * (sorted.length - 1);
  const low = Math.floor(at);
  const high = Math.min(sorted.length - 1, low + 1);
  return (sorted[low] as number) + (at - low) * ((sorted[high] as number) - (sorted[low] as number));
}

export function median(values: Numbers): number {
  return quantile(values, 0.5);
}

/** The value at which half of the weight is reached. */
export function weightedMedian(values: readonly number[], weights: readonly number[]): number {
  const order = values.map((_, i) => i).sort((a, b) => (values[a] as number) - (values[b] as number));
  const half = weights.reduce((sum, weight) => sum + weight, 0) / 2;
  let sum = 0;
  for (const i of order) {
    sum += weights[i] as number;
    if (sum >= half) return values[i] as number;
  }
  return Number.NaN;
}

/**
 * Standard deviation of what changes from one value to the next: from second differences, so that drift and slow swings
 * hardly count (white noise has sqrt(6) times its own).
 */
export function noiseOf(values: Float64Array): number {
  return median(secondDifferences(values)) / 0.6745 / Math.sqrt(6);
}

/** As `noiseOf`, for a signal that mostly repeats its last value and flickers: by the 80 % quantile. */
export function flickerOf(values: Float64Array): number {
  return quantile(secondDifferences(values), 0.8) / 1.2816 / Math.sqrt(6);
}

function secondDifferences(values: Float64Array): Float64Array {
  if (values.length < 5) return new Float64Array(1);
  const out = new Float64Array(values.length - 2);
  for (let i = 2; i < values.length; i++)
    out[i - 2] = Math.abs((values[i] as number) - 2 * (values[i - 1] as number) + (values[i - 2] as number));
  return out;
}

/** Smallest step between different values that is common to them: resolution of a coarse signal; 0: none seen. */
export function quantumOf(values: Float64Array): number {
  const sorted = Float64Array.from(values).sort();
  const steps: number[] = [];
  for (let i = 1; i < sorted.length; i++) {
    const step = (sorted[i] as number) - (sorted[i - 1] as number);
    if (step > 0) steps.push(step);
  }
  const distinct = steps.length + 1;
  // Coarse only where values repeat: each stands several times.
  if (distinct < 2 || distinct * 4 > values.length) return 0;
  return quantile(steps, 0.1);
}

/** Mean over `width` samples centred on each; the ends are continued by odd reflection, so that a drift stays one. */
export function movingMean(values: Float64Array, width: number): Float64Array {
  const n = values.length;
  const half = Math.min(Math.floor(width / 2), n - 2);
  if (half < 1) return values.slice();
  const at = (i: number): number => {
    if (i < 0) return 2 * (values[0] as number) - (values[-i] as number);
    if (i >= n) return 2 * (values[n - 1] as number) - (values[2 * (n - 1) - i] as number);
    return values[i] as number;
  };
  // An even width counts its two outermost samples half.
  const edge = width % 2 === 0 ? 0.5 : 1;
  const out = new Float64Array(n);
  let sum = 0;
  for (let k = -half; k <= half; k++) sum += at(k);
  for (let i = 0; i < n; i++) {
    const ends = at(i - half) + at(i + half);
    out[i] = (sum - (1 - edge) * ends) / (2 * half + (edge === 1 ? 1 : 0));
    sum += at(i + half + 1) - at(i - half);
  }
  return out;
}
