import { chebyshevWeights } from './cosines.ts';

/** Terms of one piece: degree 13 beside pieces this short leaves rounding alone. */
export const TERMS = 14;

const WEIGHTS = chebyshevWeights(TERMS);

/**
 * A function on [low, high] as Chebyshev series on pieces of equal length: interpolation at the Chebyshev nodes of
 * each piece, evaluation by Clenshaw's recurrence. Outside, the nearest piece goes on.
 */
export class Series {
  readonly low: number;
  readonly high: number;
  readonly #pieces: number;
  readonly #scale: number;
  readonly #coefficients: Float64Array;

  /** `values[k]` belongs to `seriesNodes(low, high, pieces)[k]`. */
  constructor(low: number, high: number, values: readonly number[]) {
    this.low = low;
    this.high = high;
    this.#pieces = values.length / TERMS;
    this.#scale = this.#pieces / (high - low);
    this.#coefficients = new Float64Array(values.length);
    for (let at = 0; at < values.length; at += TERMS) {
      for (let j = 0; j < TERMS; j++) {
        let sum = 0;
        for (let k = 0; k < TERMS; k++) sum += values[at + k]! * WEIGHTS[j * TERMS + k]!;
        this.#coefficients[at + j] = sum;
      }
    }
  }

  at(x: number): number {
    const place = (x - this.low) * this.#scale;
    const piece = place > 0 ? Math.min(Math.floor(place), this.#pieces - 1) : 0;
    const u = 2 * (place - piece) - 1;
    const twice = 2 * u;
    const coefficients = this.#coefficients;
    const first = piece * TERMS;
    let one = 0;
    let two = 0;
    for (let j = first + TERMS - 1; j > first; j--) {
      const next = coefficients[j]! - two + twice * one;
      two = one;
      one = next;
    }
    return coefficients[first]! - two + u * one;
  }
}

/** Arguments at which a series of that many pieces takes its values, piece by piece from low to high. */
export function seriesNodes(low: number, high: number, pieces: number): number[] {
  const length = (high - low) / pieces;
  return Array.from({ length: pieces * TERMS }, (_, i) => {
    const k = i % TERMS;
    const middle = low + (Math.floor(i / TERMS) + 0.5) * length;
    return middle + 0.5 * length * Math.cos((Math.PI * (k + 0.5)) / TERMS);
  });
}
