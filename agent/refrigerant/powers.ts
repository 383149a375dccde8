/**
 * x^t for a fixed set of exponents: a product of two powers already known where one exists (t = a + b), else one
 * exponential. Equations with whole and half exponents then cost a few exponentials instead of one a term.
 */
export class Powers {
  /** `values[slotOf(t)]` is x^t after `evaluate`. */
  readonly values: Float64Array;
  readonly #exponents: Float64Array;
  /** Slots of the two factors; -1: an exponential. */
  readonly #left: Int32Array;
  readonly #right: Int32Array;

  constructor(exponents: readonly number[]) {
    const plan = planOf(exponents);
    this.#exponents = Float64Array.from(plan, (step) => step.exponent);
    this.#left = Int32Array.from(plan, (step) => step.left);
    this.#right = Int32Array.from(plan, (step) => step.right);
    this.values = new Float64Array(plan.length);
    this.values[0] = 1;
  }

  slotOf(exponent: number): number {
    return this.#exponents.indexOf(exponent);
  }

  evaluate(x: number, logX: number): void {
    const values = this.values;
    const left = this.#left;
    const right = this.#right;
    values[1] = x;
    for (let i = 2; i < values.length; i++) {
      const a = left[i]!;
      values[i] = a < 0 ? Math.exp(this.#exponents[i]! * logX) : values[a]! * values[right[i]!]!;
    }
  }
}

interface Step {
  readonly exponent: number;
  readonly left: number;
  readonly right: number;
}

/** Exponents 0 and 1 first; then whatever is a sum of two known ones; where nothing is, the least left over. */
function planOf(exponents: readonly number[]): Step[] {
  const steps: Step[] = [0, 1].map((exponent) => ({ exponent, left: -1, right: -1 }));
  const open = new Set(exponents);
  open.delete(0);
  open.delete(1);
  while (open.size > 0) {
    const sorted = [...open].sort((one, other) => Math.abs(one) - Math.abs(other));
    const made = sorted.map((exponent) => productOf(exponent, steps)).find((step) => step !== null);
    const next = made ?? { exponent: sorted[0]!, left: -1, right: -1 };
    steps.push(next);
    open.delete(next.exponent);
  }
  return steps;
}

function productOf(exponent: number, known: readonly Step[]): Step | null {
  for (const [left, a] of known.entries()) {
    const right = known.findIndex((b) => a.exponent + b.exponent === exponent);
    if (right >= 0 && a.exponent !== 0) return { exponent, left, right };
  }
  return null;
}
