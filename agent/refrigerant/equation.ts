import { IdealPart } from './ideal.ts';
import { ResidualPart } from './residual.ts';
import type { RefrigerantData } from './shape.ts';

/**
 * The Helmholtz equation of state of one refrigerant as a workbench: `at(T, rho)` evaluates it and leaves the
 * properties in the fields (SI, by mass: Pa, J/kg, J/(kg K)), so that searches allocate nothing. Any T > 0 and rho > 0
 * are taken, inside the dome too. The relations between properties and the reduced Helmholtz energy: Span,
 * Multiparameter Equations of State (2000), table 3.10.
 */
export class Equation {
  readonly data: RefrigerantData;
  /** Specific gas constant, J/(kg K). */
  readonly R: number;
  T = 0;
  rho = 0;
  p = 0;
  h = 0;
  s = 0;
  /** Gibbs energy, J/kg. */
  g = 0;
  cv = 0;
  /** Slopes of pressure at constant density and at constant temperature. */
  p_T = 0;
  p_rho = 0;
  readonly #reducingT: number;
  readonly #reducingRho: number;
  readonly #ideal: IdealPart;
  readonly #residual: ResidualPart;

  constructor(data: RefrigerantData) {
    this.data = data;
    this.R = data.gas_constant_J_per_mol_K / data.molar_mass_kg_per_mol;
    this.#reducingT = data.reducing.T_K;
    this.#reducingRho = data.reducing.rho_mol_per_m3 * data.molar_mass_kg_per_mol;
    this.#ideal = new IdealPart(data.ideal);
    this.#residual = new ResidualPart(data.residual);
  }

  /** Pressure and its slope with density alone; the other fields then still belong to an earlier state. */
  pressureAt(T: number, rho: number): void {
    this.#setTemperature(T);
    const residual = this.#residual;
    residual.evaluate(rho / this.#reducingRho);
    const RT = this.R * T;
    this.rho = rho;
    this.p = rho * RT * (1 + residual.d);
    this.p_rho = RT * (1 + 2 * residual.d + residual.dd);
  }

  at(T: number, rho: number): void {
    this.pressureAt(T, rho);
    this.complete();
  }

  /** All fields of the state that `pressureAt` evaluated last. */
  complete(): void {
    const { T, rho } = this;
    const residual = this.#residual;
    const ideal = this.#ideal;
    const R = this.R;
    const a = ideal.a + Math.log(rho / this.#reducingRho) + residual.a;
    const a_t = ideal.a_t + residual.t;
    this.h = R * T * (1 + a_t + residual.d);
    this.s = R * (a_t - a);
    this.g = R * T * (1 + a + residual.d);
    this.cv = -R * (ideal.a_tt + residual.tt);
    this.p_T = rho * R * (1 + residual.d - residual.dt);
  }

  #setTemperature(T: number): void {
    if (T === this.T) return;
    this.T = T;
    const tau = this.#reducingT / T;
    const logTau = Math.log(tau);
    this.#ideal.evaluate(tau, logTau);
    this.#residual.atTemperature(tau, logTau);
  }

  /** Heat capacity at constant pressure of the state last evaluated, J/(kg K). */
  get cp(): number {
    return this.cv + (this.T * this.p_T * this.p_T) / (this.rho * this.rho * this.p_rho);
  }

  /** Sound speed of the state last evaluated, m/s. */
  get w(): number {
    return Math.sqrt((this.p_rho * this.cp) / this.cv);
  }
}
