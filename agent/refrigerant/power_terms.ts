import { assert } from '../base/result.ts';
import { Powers } from './powers.ts';
import type { PowerTerm } from './shape.ts';

/**
 * Terms n tau^t delta^d exp(-delta^l), sorted by l so that each exponential is computed once. Fields as in
 * `ResidualPart`.
 */
export class PowerTerms {
  a = 0;
  d = 0;
  dd = 0;
  t = 0;
  dt = 0;
  tt = 0;
  readonly #n: Float64Array;
  readonly #t: Float64Array;
  readonly #d: Int32Array;
  /** Group g holds the terms from starts[g] up to starts[g + 1], all of exponent l[g]. */
  readonly #starts: number[] = [];
  readonly #l: number[] = [];
  /** Powers of tau, and where each term finds its own. */
  readonly #tau: Powers;
  readonly #slots: Int32Array;
  readonly #coefficients: Float64Array;
  readonly #powers: Float64Array;

  constructor(terms: readonly PowerTerm[]) {
    const sorted = [...terms].sort((one, other) => one.l - other.l);
    for (const { d, l } of sorted) {
      assert(Number.isInteger(d) && d >= 0 && Number.isInteger(l) && l >= 0, 'powers of delta are whole numbers');
    }
    this.#n = Float64Array.from(sorted, (term) => term.n);
    this.#t = Float64Array.from(sorted, (term) => term.t);
    this.#d = Int32Array.from(sorted, (term) => term.d);
    this.#tau = new Powers(sorted.map((term) => term.t));
    this.#slots = Int32Array.from(sorted, (term) => this.#tau.slotOf(term.t));
    this.#coefficients = new Float64Array(sorted.length);
    this.#powers = new Float64Array(1 + Math.max(1, ...sorted.map((term) => Math.max(term.d, term.l))));
    sorted.forEach(({ l }, i) => {
      if (l === this.#l.at(-1)) return;
      this.#l.push(l);
      this.#starts.push(i);
    });
    this.#starts.push(sorted.length);
  }

  atTemperature(tau: number, logTau: number): void {
    this.#tau.evaluate(tau, logTau);
    const n = this.#n;
    const slots = this.#slots;
    const powers = this.#tau.values;
    const coefficients = this.#coefficients;
    for (let i = 0; i < n.length; i++) coefficients[i] = n[i]! * powers[slots[i]!]!;
  }

  evaluate(delta: number): void {
    const powers = this.#powers;
    powers[0] = 1;
    for (let i = 1; i < powers.length; i++) powers[i] = powers[i - 1]! * delta;
    const ts = this.#t;
    const ds = this.#d;
    const coefficients = this.#coefficients;
    const starts = this.#starts;
    let a = 0;
    let a_d = 0;
    let a_dd = 0;
    let a_t = 0;
    let a_dt = 0;
    let a_tt = 0;
    for (let g = 0; g < this.#l.length; g++) {
      // Sums over the group without its exponential: of c delta^d and the same times d, d(d-1), t, dt, t(t-1).
      let s = 0;
      let s_d = 0;
      let s_dd = 0;
      let s_t = 0;
      let s_dt = 0;
      let s_tt = 0;
      const end = starts[g + 1]!;
      for (let i = starts[g]!; i < end; i++) {
        const d = ds[i]!;
        const t = ts[i]!;
        const term = coefficients[i]! * powers[d]!;
        const termD = term * d;
        const termT = term * t;
        s += term;
        s_d += termD;
        s_dd += termD * (d - 1);
        s_t += termT;
        s_dt += termT * d;
        s_tt += termT * (t - 1);
      }
      const l = this.#l[g]!;
      const powerL = l === 0 ? 0 : powers[l]!;
      const x = l * powerL;
      const e = l === 0 ? 1 : Math.exp(-powerL);
      a += e * s;
      a_d += e * (s_d - x * s);
      a_dd += e * (s_dd - 2 * x * s_d + x * (x + 1 - l) * s);
      a_t += e * s_t;
      a_dt += e * (s_dt - x * s_t);
      a_tt += e * s_tt;
    }
    this.a = a;
    this.d = a_d;
    this.dd = a_dd;
    this.t = a_t;
    this.dt = a_dt;
    this.tt = a_tt;
  }
}
