import { LIMITS } from '../base/limits.ts';
import { assert } from '../base/result.ts';
import { Chebyshev, chebyshevNode } from './chebyshev.ts';
import { type CriticalPoint, criticalPoint } from './critical.ts';
import type { Equation } from './equation.ts';
import { type Equilibrium, saturateAtPressure, saturateAtTemperature } from './saturation.ts';

const NODES = 48;
/** The series reach a little beyond the range promised, so that its ends are inside. */
const WARMEST_FITTED = 0.9945;
const COLDEST_FITTED = 0.985;
/** What an end of the range may be exceeded by: rounding of inputs, such as a pressure printed with seven digits. */
const END_SLACK = 1e-6;

/**
 * The two-phase dome: saturation solved from the equation at Chebyshev nodes when built, then series of ln p and both
 * densities in sqrt(1 - T/Tc), in which an analytic equation is smooth up to its critical point, and of T in ln p. The
 * series only start the search: every answer satisfies the equilibrium conditions of the equation to rounding.
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
  readonly #equation: Equation;
  readonly #logPressure: Chebyshev;
  readonly #liquid: Chebyshev;
  readonly #vapour: Chebyshev;
  readonly #temperature: Chebyshev;

  constructor(equation: Equation) {
    this.#equation = equation;
    this.critical = criticalPoint(equation);
    const Tc = this.critical.T;
    this.T_min = Math.max(LIMITS.refrigerant_temperature_K_min, equation.data.validity.T_triple_K);
    this.T_max = LIMITS.saturation_critical_fraction_max * Tc;
    const low = Math.sqrt(1 - WARMEST_FITTED);
    const high = Math.sqrt(1 - (COLDEST_FITTED * this.T_min) / Tc);
    const nodes = solveNodes(equation, this.critical, low, high);
    this.#logPressure = new Chebyshev(
      low,
      high,
      nodes.map((node) => Math.log(node.p)),
    );
    this.#liquid = new Chebyshev(
      low,
      high,
      nodes.map((node) => Math.log(node.rhoLiquid)),
    );
    this.#vapour = new Chebyshev(
      low,
      high,
      nodes.map((node) => Math.log(node.rhoVapour)),
    );
    const warmest = this.#logPressure.at(low);
    const coldest = this.#logPressure.at(high);
    this.#temperature = new Chebyshev(coldest, warmest, this.#temperatures(coldest, warmest));
    assert(this.#solveTemperature(this.T_min), 'the cold end of the dome was found');
    this.p_min = this.found.p;
    assert(this.#solveTemperature(this.T_max), 'the warm end of the dome was found');
    this.p_max = this.found.p;
  }

  holdsTemperature(T: number): boolean {
    return T >= this.T_min * (1 - END_SLACK) && T <= this.T_max * (1 + END_SLACK);
  }

  holdsPressure(p: number): boolean {
    return p >= this.p_min * (1 - END_SLACK) && p <= this.p_max * (1 + END_SLACK);
  }

  /** Equilibrium at a temperature inside the range, into `found`. */
  atTemperature(T: number): boolean {
    return this.holdsTemperature(T) && this.#solveTemperature(T);
  }

  /** Equilibrium at a pressure inside the range, into `found`. */
  atPressure(p: number): boolean {
    if (!this.holdsPressure(p)) return false;
    this.#start(this.#temperature.at(Math.log(p)));
    return saturateAtPressure(this.#equation, p, this.found);
  }

  /** Saturation pressure and densities by the series alone: starts and comparisons, good to about 1e-8. */
  estimatePressure(T: number): number {
    return Math.exp(this.#logPressure.at(this.#variable(T)));
  }

  estimateLiquidDensity(T: number): number {
    return Math.exp(this.#liquid.at(this.#variable(T)));
  }

  estimateVapourDensity(T: number): number {
    return Math.exp(this.#vapour.at(this.#variable(T)));
  }

  #variable(T: number): number {
    return Math.sqrt(1 - T / this.critical.T);
  }

  #start(T: number): void {
    const x = this.#variable(T);
    this.found.T = T;
    this.found.rhoLiquid = Math.exp(this.#liquid.at(x));
    this.found.rhoVapour = Math.exp(this.#vapour.at(x));
  }

  #solveTemperature(T: number): boolean {
    this.#start(T);
    return saturateAtTemperature(this.#equation, T, this.found);
  }

  /** Saturation temperatures at the nodes of the inverse series, each started from the one before. */
  #temperatures(coldest: number, warmest: number): number[] {
    let T = 0.5 * (this.T_min + this.T_max);
    return Array.from({ length: NODES }, (_, k) => {
      const logP = chebyshevNode(k, NODES, coldest, warmest);
      // Secant on the series: ln p is close to linear in 1/T.
      T = this.#invert(logP);
      this.#start(T);
      assert(saturateAtPressure(this.#equation, Math.exp(logP), this.found), 'saturation was found at every node');
      return this.found.T;
    });
  }

  #invert(logP: number): number {
    let cold = COLDEST_FITTED * this.T_min;
    let warm = WARMEST_FITTED * this.critical.T;
    for (let i = 0; i < 50; i++) {
      const middle = 0.5 * (cold + warm);
      if (this.#logPressure.at(this.#variable(middle)) < logP) cold = middle;
      else warm = middle;
    }
    return 0.5 * (cold + warm);
  }
}

/**
 * Equilibria at the Chebyshev nodes of x = sqrt(1 - T/Tc), by continuation from a generalised start at the coldest
 * node.
 */
function solveNodes(equation: Equation, critical: CriticalPoint, low: number, high: number): Equilibrium[] {
  const state = firstGuess(equation, critical, critical.T * (1 - high * high));
  const nodes: Equilibrium[] = [];
  for (let k = 0; k < NODES; k++) {
    const x = chebyshevNode(k, NODES, low, high);
    const T = critical.T * (1 - x * x);
    const [last, before] = [nodes.at(-1), nodes.at(-2)];
    if (last !== undefined && before !== undefined) {
      const along = (x - xOf(last, critical)) / (xOf(last, critical) - xOf(before, critical));
      state.rhoLiquid = last.rhoLiquid * (last.rhoLiquid / before.rhoLiquid) ** along;
      state.rhoVapour = last.rhoVapour * (last.rhoVapour / before.rhoVapour) ** along;
    }
    assert(saturateAtTemperature(equation, T, state), `saturation of ${equation.data.name} was found at ${T} K`);
    nodes.push({ ...state });
  }
  return nodes;
}

function xOf(state: Equilibrium, critical: CriticalPoint): number {
  return Math.sqrt(1 - state.T / critical.T);
}

/**
 * Vapour pressure by Lee and Kesler's simplest form, ideal vapour, liquid density by Rackett's rule: common practice,
 * no source.
 */
function firstGuess(equation: Equation, critical: CriticalPoint, T: number): Equilibrium {
  const p = critical.p * 10 ** ((7 / 3) * (1 + equation.data.acentric_factor) * (1 - critical.T / T));
  const compressibility = critical.p / (critical.rho * equation.R * critical.T);
  const rhoLiquid = critical.rho / compressibility ** ((1 - T / critical.T) ** (2 / 7));
  return { T, p, rhoLiquid, rhoVapour: p / (equation.R * T) };
}
