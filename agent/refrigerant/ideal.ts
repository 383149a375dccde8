import type { IdealTerm } from './shape.ts';

/**
 * Ideal part without ln(delta): a(tau) = a1 + a2 tau + c ln(tau) + sum n tau^t + sum n ln(1 - exp(-t tau)).
 *
 * Kinds: `linear` a1 + a2 tau; `logarithm` n ln(tau); `power` n tau^t; `planck_einstein` n ln(1 - exp(-t tau));
 * `heat_capacity` c_p0/R = c T^t, integrated twice from its reference temperature, which again gives terms of these
 * kinds. After `evaluate` the fields hold a, tau a_tau and tau^2 a_tautau.
 */
export class IdealPart {
  a = 0;
  a_t = 0;
  a_tt = 0;
  readonly #sums = { constant: 0, slope: 0, logarithm: 0 };
  readonly #powerN: Float64Array;
  readonly #powerT: Float64Array;
  readonly #einsteinN: Float64Array;
  readonly #einsteinT: Float64Array;

  constructor(terms: readonly IdealTerm[]) {
    const powers: { n: number; t: number }[] = [];
    const einsteins: { n: number; t: number }[] = [];
    for (const term of terms) {
      if (term.kind === 'linear') this.#addLinear(term.constant, term.slope);
      else if (term.kind === 'logarithm') this.#sums.logarithm += term.n;
      else if (term.kind === 'power') powers.push(...term.terms);
      else if (term.kind === 'planck_einstein') einsteins.push(...term.terms);
      else for (const { c, t } of term.terms) powers.push(...this.#integrate(c, t, term.T_reference_K, term.T_scale_K));
    }
    this.#powerN = Float64Array.from(powers, (term) => term.n);
    this.#powerT = Float64Array.from(powers, (term) => term.t);
    this.#einsteinN = Float64Array.from(einsteins, (term) => term.n);
    this.#einsteinT = Float64Array.from(einsteins, (term) => term.t);
  }

  #addLinear(constant: number, slope: number): void {
    this.#sums.constant += constant;
    this.#sums.slope += slope;
  }

  /** c_p0/R = c T^t as terms in tau; a heat capacity of power -1 needs tau ln(tau), which no carried equation has. */
  #integrate(c: number, t: number, reference: number, scale: number): { n: number; t: number }[] {
    const tauReference = scale / reference;
    if (t === 0) {
      this.#sums.logarithm += c;
      this.#addLinear(c * (1 - Math.log(tauReference)), -c / tauReference);
      return [];
    }
    if (t === -1) throw new Error('heat capacity term of power -1 is not carried');
    this.#addLinear((c * reference ** t) / t, (-c * reference ** (t + 1)) / (scale * (t + 1)));
    return [{ n: (-c * scale ** t) / (t * (t + 1)), t: -t }];
  }

  evaluate(tau: number, logTau: number): void {
    const { constant, slope, logarithm } = this.#sums;
    let a = constant + slope * tau + logarithm * logTau;
    let a_t = slope * tau + logarithm;
    let a_tt = -logarithm;
    const powerN = this.#powerN;
    const powerT = this.#powerT;
    for (let i = 0; i < powerN.length; i++) {
      const t = powerT[i]!;
      const term = powerN[i]! * Math.exp(t * logTau);
      a += term;
      a_t += t * term;
      a_tt += t * (t - 1) * term;
    }
    const einsteinN = this.#einsteinN;
    const einsteinT = this.#einsteinT;
    for (let i = 0; i < einsteinN.length; i++) {
      const n = einsteinN[i]!;
      const x = einsteinT[i]! * tau;
      const e = Math.exp(-x);
      const ratio = (x * e) / (1 - e);
      a += n * Math.log(1 - e);
      a_t += n * ratio;
      a_tt -= n * ratio * (x / (1 - e));
    }
    this.a = a;
    this.a_t = a_t;
    this.a_tt = a_tt;
  }
}
