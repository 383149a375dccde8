import { LIMITS } from '../base/limits.ts';
import { assert } from '../base/result.ts';
import { type CriticalPoint, criticalPoint } from './critical.ts';
import type { Equation } from './equation.ts';
import type { Equilibrium } from './saturation.ts';
import {
  COLDEST_FITTED,
  distanceOf,
  fitSaturation,
  type SaturationSeries,
  WARMEST_FITTED,
} from './saturation_series.ts';

/** What an end of the range may be exceeded by: rounding of inputs, such as a pressure printed with seven digits. */
const END_SLACK = 1e-6;
/** Pieces tried, fewest first, until the series keep to the equation. */
const PIECES = [8, 16, 32];
/** What the series may differ from the equation's equilibrium, relatively, wherever they are checked at the start. */
const BOUND = 1e-11;

/** What is given beside the pressure. */
export type Caloric = 'h' | 's';

/**
 * The two-phase dome as series of the equation's own equilibria, solved when built and checked against it between the
 * nodes: answers are within 1e-11 of the equation, relatively, for the price of a few dozen multiplications.
 */
export class Dome {
  readonly critical: CriticalPoint;
  /** Range promised: from the least temperature carried to 0.99 of the critical one. */
  readonly T_min: number;
  readonly T_max: number;
  readonly p_min: number;
  readonly p_max: number;
  /** Answer of the last search. */
  readonly found: Equilibrium = { T: 0, p: 0, rhoLiquid: 0, rhoVapour: 0 };
  /** Largest relative difference from the equation that the check at the start found. */
  readonly error: number;
  readonly #series: SaturationSeries;

  constructor(equation: Equation) {
    this.critical = criticalPoint(equation);
    const Tc = this.critical.T;
    this.T_min = Math.max(LIMITS.refrigerant_temperature_K_min, equation.data.validity.T_triple_K);
    this.T_max = LIMITS.saturation_critical_fraction_max * Tc;
    const low = Math.sqrt(1 - WARMEST_FITTED);
    const high = Math.sqrt(1 - (COLDEST_FITTED * this.T_min) / Tc);
    let fitted = fitSaturation(equation, this.critical, low, high, PIECES[0]!);
    for (const pieces of PIECES.slice(1)) {
      if (fitted.error < BOUND) break;
      fitted = fitSaturation(equation, this.critical, low, high, pieces);
    }
    assert(fitted.error < BOUND, `saturation of ${equation.data.name} is smooth: off by ${fitted.error}`);
    this.#series = fitted.series;
    this.error = fitted.error;
    this.p_min = this.pressure(this.T_min);
    this.p_max = this.pressure(this.T_max);
  }

  holdsTemperature(T: number): boolean {
    return T >= this.T_min * (1 - END_SLACK) && T <= this.T_max * (1 + END_SLACK);
  }

  holdsPressure(p: number): boolean {
    return p >= this.p_min * (1 - END_SLACK) && p <= this.p_max * (1 + END_SLACK);
  }

  /** Equilibrium at a temperature inside the range, into `found`. */
  atTemperature(T: number): void {
    this.#fill(T, this.pressure(T));
  }

  /** Equilibrium at a pressure inside the range, into `found`. */
  atPressure(p: number): void {
    this.#fill(this.temperature(p), p);
  }

  /** Of one pressure, temperature or density alone; T or p inside the range. */
  pressure(T: number): number {
    return Math.exp(this.#series.logPressure.at(this.#variable(T)));
  }

  temperature(p: number): number {
    const x = this.#series.variable.at(distanceOf(this.critical, p));
    return this.critical.T * (1 - x * x);
  }

  liquidDensity(T: number): number {
    return Math.exp(this.#series.logLiquid.at(this.#variable(T)));
  }

  vapourDensity(T: number): number {
    return Math.exp(this.#series.logVapour.at(this.#variable(T)));
  }

  /** Enthalpy (J/kg) or entropy (J/(kg K)) of saturated liquid or vapour. */
  liquid(kind: Caloric, T: number): number {
    return this.#series[kind === 'h' ? 'liquidEnthalpy' : 'liquidEntropy'].at(this.#variable(T));
  }

  vapour(kind: Caloric, T: number): number {
    return this.#series[kind === 'h' ? 'vapourEnthalpy' : 'vapourEntropy'].at(this.#variable(T));
  }

  #variable(T: number): number {
    return Math.sqrt(1 - T / this.critical.T);
  }

  #fill(T: number, p: number): void {
    const x = this.#variable(T);
    this.found.T = T;
    this.found.p = p;
    this.found.rhoLiquid = Math.exp(this.#series.logLiquid.at(x));
    this.found.rhoVapour = Math.exp(this.#series.logVapour.at(x));
  }
}
