import { GaussianTerms } from './gaussian_terms.ts';
import { PowerTerms } from './power_terms.ts';
import type { RefrigerantData } from './shape.ts';

/**
 * Residual part ar(tau, delta) and its derivatives, each multiplied by its powers of tau and delta: `a`, `d` = delta
 * ar_delta, `dd` = delta^2 ar_deltadelta, `t` = tau ar_tau, `dt` = delta tau ar_deltatau, `tt` = tau^2 ar_tautau.
 * Whatever depends on tau alone is kept between calls of the same tau: density searches at one temperature cost
 * little.
 */
export class ResidualPart {
  a = 0;
  d = 0;
  dd = 0;
  t = 0;
  dt = 0;
  tt = 0;
  readonly #power: PowerTerms;
  readonly #gaussian: GaussianTerms;

  constructor(data: RefrigerantData['residual']) {
    this.#power = new PowerTerms(data.power);
    this.#gaussian = new GaussianTerms(data.gaussian);
  }

  atTemperature(tau: number, logTau: number): void {
    this.#power.atTemperature(tau, logTau);
    this.#gaussian.atTemperature(tau, logTau);
  }

  evaluate(delta: number): void {
    const power = this.#power;
    power.evaluate(delta);
    this.a = power.a;
    this.d = power.d;
    this.dd = power.dd;
    this.t = power.t;
    this.dt = power.dt;
    this.tt = power.tt;
    const gaussian = this.#gaussian;
    if (gaussian.count === 0) return;
    gaussian.evaluate(delta);
    this.a += gaussian.a;
    this.d += gaussian.d;
    this.dd += gaussian.dd;
    this.t += gaussian.t;
    this.dt += gaussian.dt;
    this.tt += gaussian.tt;
  }
}
