import { assert } from '../base/result.ts';
import type { CriticalPoint } from './critical.ts';
import type { Equation } from './equation.ts';
import { type Equilibrium, saturateAtTemperature } from './saturation.ts';
import { Series, seriesNodes, TERMS } from './series.ts';

/** The series reach a little beyond the range promised, so that its ends are inside. */
export const WARMEST_FITTED = 0.9945;
export const COLDEST_FITTED = 0.985;

/**
 * In x = sqrt(1 - T/Tc), in which an analytic equation is smooth up to its critical point; x itself in
 * sqrt(ln(pc/p)).
 */
export interface SaturationSeries {
  readonly logPressure: Series;
  readonly logLiquid: Series;
  readonly logVapour: Series;
  readonly liquidEnthalpy: Series;
  readonly vapourEnthalpy: Series;
  readonly liquidEntropy: Series;
  readonly vapourEntropy: Series;
  readonly variable: Series;
}

/**
 * Series of the equation's equilibria for x from low to high, and their largest relative difference from the equation,
 * looked for where interpolation errs most: at the ends of the pieces and between their nodes.
 */
export function fitSaturation(
  equation: Equation,
  critical: CriticalPoint,
  low: number,
  high: number,
  pieces: number,
): { readonly series: SaturationSeries; readonly error: number } {
  const nodes = solveNodes(equation, critical, seriesNodes(low, high, pieces));
  const of = (value: (node: Equilibrium) => number): Series => new Series(low, high, nodes.map(value));
  const evaluated = (phase: 'rhoLiquid' | 'rhoVapour') => (node: Equilibrium) => {
    equation.at(node.T, node[phase]);
    return equation;
  };
  const [liquid, vapour] = [evaluated('rhoLiquid'), evaluated('rhoVapour')];
  const logPressure = of((node) => Math.log(node.p));
  const inX = {
    logPressure,
    logLiquid: of((node) => Math.log(node.rhoLiquid)),
    logVapour: of((node) => Math.log(node.rhoVapour)),
    liquidEnthalpy: of((node) => liquid(node).h),
    vapourEnthalpy: of((node) => vapour(node).h),
    liquidEntropy: of((node) => liquid(node).s),
    vapourEntropy: of((node) => vapour(node).s),
  };
  const distance = (x: number): number => distanceOf(critical, Math.exp(logPressure.at(x)));
  const [nearest, farthest] = [distance(low), distance(high)];
  const variables = seriesNodes(nearest, farthest, pieces).map((at) => invert(distance, low, high, at));
  const series = { ...inX, variable: new Series(nearest, farthest, variables) };
  return { series, error: errorOf(series, equation, critical, pieces) };
}

function errorOf(series: SaturationSeries, equation: Equation, critical: CriticalPoint, pieces: number): number {
  const { low, high } = series.logPressure;
  const length = (high - low) / pieces;
  let worst = 0;
  const compare = (found: number, true_: number): void => {
    worst = Math.max(worst, Math.abs(found / true_ - 1));
  };
  for (let piece = 0; piece < pieces; piece++) {
    for (const k of [0, 1, TERMS / 2, TERMS - 1]) {
      const x = low + length * (piece + 0.5 + 0.5 * Math.cos((Math.PI * k) / TERMS));
      const T = critical.T * (1 - x * x);
      const rhoLiquid = Math.exp(series.logLiquid.at(x));
      const rhoVapour = Math.exp(series.logVapour.at(x));
      const p = Math.exp(series.logPressure.at(x));
      const state = { T, p, rhoLiquid, rhoVapour };
      if (!saturateAtTemperature(equation, T, state)) return Number.POSITIVE_INFINITY;
      compare(p, state.p);
      compare(rhoLiquid, state.rhoLiquid);
      compare(rhoVapour, state.rhoVapour);
      compare(critical.T * (1 - series.variable.at(distanceOf(critical, state.p)) ** 2), T);
      equation.at(T, state.rhoVapour);
      const { h, s } = equation;
      compare(series.vapourEnthalpy.at(x), h);
      compare(series.vapourEntropy.at(x), s);
      equation.at(T, state.rhoLiquid);
      // Beside the latent heat: enthalpy and entropy themselves may pass through zero.
      compare(1 + (series.liquidEnthalpy.at(x) - equation.h) / (h - equation.h), 1);
      compare(1 + (series.liquidEntropy.at(x) - equation.s) / (s - equation.s), 1);
    }
  }
  return worst;
}

/** How far a pressure is from the critical one, in a measure that grows about as x does. */
export function distanceOf(critical: CriticalPoint, p: number): number {
  return Math.sqrt(Math.log(critical.p / p));
}

/** x of that distance, by the secant method: the two are close to proportional. */
function invert(distance: (x: number) => number, low: number, high: number, target: number): number {
  let [one, other] = [low, high];
  let [above, below] = [distance(one) - target, distance(other) - target];
  for (let i = 0; i < 50 && below !== above; i++) {
    const next = other - (below * (other - one)) / (below - above);
    [one, above] = [other, below];
    other = next;
    below = distance(other) - target;
    if (Math.abs(other - one) < 1e-13) break;
  }
  return other;
}

/** Equilibria at the given x, by continuation from a generalised start at the coldest. In the order given. */
function solveNodes(equation: Equation, critical: CriticalPoint, xs: readonly number[]): Equilibrium[] {
  const coldestFirst = xs.map((x, place) => ({ x, place })).sort((one, other) => other.x - one.x);
  const state = firstGuess(equation, critical, critical.T * (1 - coldestFirst[0]!.x ** 2));
  const solved: Equilibrium[] = new Array(xs.length);
  let last: (Equilibrium & { x: number }) | null = null;
  let before: (Equilibrium & { x: number }) | null = null;
  for (const { x, place } of coldestFirst) {
    const T = critical.T * (1 - x * x);
    if (last !== null && before !== null) {
      const along = (x - last.x) / (last.x - before.x);
      state.rhoLiquid = last.rhoLiquid * (last.rhoLiquid / before.rhoLiquid) ** along;
      state.rhoVapour = last.rhoVapour * (last.rhoVapour / before.rhoVapour) ** along;
    }
    assert(saturateAtTemperature(equation, T, state), `saturation of ${equation.data.name} was found at ${T} K`);
    [before, last] = [last, { ...state, x }];
    solved[place] = { ...state };
  }
  return solved;
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
