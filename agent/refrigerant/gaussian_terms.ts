import { assert } from '../base/result.ts';
import type { GaussianTerm } from './shape.ts';

/** Terms n tau^t delta^d exp(-eta (delta - epsilon)^2 - beta (tau - gamma)^2). Fields as in `ResidualPart`. */
export class GaussianTerms {
  a = 0;
  d = 0;
  dd = 0;
  t = 0;
  dt = 0;
  tt = 0;
  readonly count: number;
  readonly #terms: readonly GaussianTerm[];
  readonly #d: Float64Array;
  readonly #eta: Float64Array;
  readonly #epsilon: Float64Array;
  /** Factor of tau alone, and its first and second logarithmic slopes, at the present temperature. */
  readonly #factor: Float64Array;
  readonly #first: Float64Array;
  readonly #second: Float64Array;

  constructor(terms: readonly GaussianTerm[]) {
    for (const { d } of terms) assert(Number.isInteger(d) && d >= 0, 'powers of delta are whole numbers');
    this.count = terms.length;
    this.#terms = terms;
    this.#d = Float64Array.from(terms, (term) => term.d);
    this.#eta = Float64Array.from(terms, (term) => term.eta);
    this.#epsilon = Float64Array.from(terms, (term) => term.epsilon);
    this.#factor = new Float64Array(terms.length);
    this.#first = new Float64Array(terms.length);
    this.#second = new Float64Array(terms.length);
  }

  atTemperature(tau: number, logTau: number): void {
    for (let i = 0; i < this.count; i++) {
      const { n, t, beta, gamma } = this.#terms[i]!;
      const away = tau - gamma;
      const first = t - 2 * beta * tau * away;
      this.#factor[i] = n * Math.exp(t * logTau - beta * away * away);
      this.#first[i] = first;
      this.#second[i] = first * first - t - 2 * beta * tau * tau;
    }
  }

  evaluate(delta: number): void {
    const logDelta = Math.log(delta);
    let a = 0;
    let a_d = 0;
    let a_dd = 0;
    let a_t = 0;
    let a_dt = 0;
    let a_tt = 0;
    for (let i = 0; i < this.count; i++) {
      const d = this.#d[i]!;
      const eta = this.#eta[i]!;
      const away = delta - this.#epsilon[i]!;
      const term = this.#factor[i]! * Math.exp(d * logDelta - eta * away * away);
      const slope = d - 2 * eta * delta * away;
      const first = this.#first[i]!;
      a += term;
      a_d += term * slope;
      a_dd += term * (slope * slope - d - 2 * eta * delta * delta);
      a_t += term * first;
      a_dt += term * first * slope;
      a_tt += term * this.#second[i]!;
    }
    this.a = a;
    this.d = a_d;
    this.dd = a_dd;
    this.t = a_t;
    this.dt = a_dt;
    this.tt = a_tt;
  }
}
