/**
 * A function on [low, high] as a Chebyshev series: interpolation at the Chebyshev nodes, evaluation by Clenshaw's
 * recurrence.
 */
export class Chebyshev {
  readonly low: number;
  readonly high: number;
  readonly #coefficients: Float64Array;

  /** `values[k]` belongs to `chebyshevNode(k, values.length, low, high)`. */
  constructor(low: number, high: number, values: readonly number[]) {
    this.low = low;
    this.high = high;
    const count = values.length;
    this.#coefficients = Float64Array.from({ length: count }, (_, j) => {
      let sum = 0;
      for (let k = 0; k < count; k++) sum += values[k]! * Math.cos((Math.PI * j * (k + 0.5)) / count);
      return ((j === 0 ? 1 : 2) / count) * sum;
    });
  }

  at(x: number): number {
    const u = (2 * x - this.low - this.high) / (this.high - this.low);
    const coefficients = this.#coefficients;
    let one = 0;
    let two = 0;
    for (let j = coefficients.length - 1; j > 0; j--) {
      const next = coefficients[j]! + 2 * u * one - two;
      two = one;
      one = next;
    }
    return coefficients[0]! + u * one - two;
  }
}

export function chebyshevNode(k: number, count: number, low: number, high: number): number {
  return 0.5 * (low + high) + 0.5 * (high - low) * Math.cos((Math.PI * (k + 0.5)) / count);
}
