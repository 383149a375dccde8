import { chebyshevWeights } from './cosines.ts';

/** Terms along pressure and along the caloric property. */
const TERMS = 10;

const WEIGHTS = chebyshevWeights(TERMS);

/**
 * Temperature and density of single-phase states as functions of pressure and enthalpy or entropy: a polynomial in two
 * variables (Chebyshev series in each) through solved states. A start for Newton's method, near enough that one or two
 * steps end it; never an answer.
 */
export class Starts {
  T = 0;
  rho = 0;
  readonly #logLow: number;
  readonly #logHigh: number;
  readonly #T: Float64Array;
  readonly #logRho: Float64Array;
  readonly #along = new Float64Array(TERMS);
  readonly #across = new Float64Array(TERMS);

  /** `solve(p, share)` gives the state at a share (0 to 1) of an isobar; asked in the order of rising shares. */
  constructor(p_low: number, p_high: number, solve: (p: number, share: number) => { T: number; rho: number }) {
    this.#logLow = Math.log(p_low);
    this.#logHigh = Math.log(p_high);
    const nodes = Array.from({ length: TERMS }, (_, k) => Math.cos((Math.PI * (k + 0.5)) / TERMS));
    const middle = 0.5 * (this.#logLow + this.#logHigh);
    const half = 0.5 * (this.#logHigh - this.#logLow);
    const states = nodes.flatMap((a) => nodes.map((b) => solve(Math.exp(middle + half * a), 0.5 - 0.5 * b)));
    this.#T = transform(states.map((state) => state.T));
    this.#logRho = transform(states.map((state) => Math.log(state.rho)));
  }

  /** Into `T` and `rho`. */
  evaluate(p: number, share: number): void {
    fill(this.#along, (2 * Math.log(p) - this.#logLow - this.#logHigh) / (this.#logHigh - this.#logLow));
    fill(this.#across, 1 - 2 * share);
    let T = 0;
    let logRho = 0;
    for (let i = 0; i < TERMS; i++) {
      let rowT = 0;
      let rowRho = 0;
      for (let j = 0; j < TERMS; j++) {
        const basis = this.#across[j]!;
        rowT += this.#T[i * TERMS + j]! * basis;
        rowRho += this.#logRho[i * TERMS + j]! * basis;
      }
      T += rowT * this.#along[i]!;
      logRho += rowRho * this.#along[i]!;
    }
    this.T = T;
    this.rho = Math.exp(logRho);
  }
}

/** Chebyshev polynomials 0 to TERMS - 1 at u. */
function fill(basis: Float64Array, u: number): void {
  basis[0] = 1;
  basis[1] = u;
  for (let j = 2; j < TERMS; j++) basis[j] = 2 * u * basis[j - 1]! - basis[j - 2]!;
}

/** Coefficients from values at the nodes, both ways. */
function transform(values: readonly number[]): Float64Array {
  const rows = new Float64Array(TERMS * TERMS);
  const coefficients = new Float64Array(TERMS * TERMS);
  for (let i = 0; i < TERMS; i++) {
    for (let j = 0; j < TERMS; j++) {
      for (let k = 0; k < TERMS; k++) rows[i * TERMS + j]! += WEIGHTS[j * TERMS + k]! * values[i * TERMS + k]!;
    }
  }
  for (let i = 0; i < TERMS; i++) {
    for (let j = 0; j < TERMS; j++) {
      for (let k = 0; k < TERMS; k++) coefficients[i * TERMS + j]! += WEIGHTS[i * TERMS + k]! * rows[k * TERMS + j]!;
    }
  }
  return coefficients;
}
