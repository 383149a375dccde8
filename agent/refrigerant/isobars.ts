import { assert } from '../base/result.ts';
import { densityAt } from './density.ts';
import type { Caloric, Dome } from './dome.ts';
import type { Equation } from './equation.ts';
import { bracket, newton } from './flash.ts';
import { Series, seriesNodes } from './series.ts';
import { Starts } from './starts.ts';

/**
 * The isobars of one phase from saturation to the end of the range, by enthalpy or entropy. `start` puts the equation
 * near the state asked for; the share of the isobar is counted from saturation.
 */
export class Isobars {
  readonly #equation: Equation;
  readonly #dome: Dome;
  readonly #kind: Caloric;
  readonly #phase: 'liquid' | 'vapour';
  readonly #T_end: number;
  /** Enthalpy or entropy at the far end, in ln p: what the share is measured by, so smoothness is enough. */
  readonly #end: Series;
  readonly #starts: Starts;

  constructor(equation: Equation, dome: Dome, kind: Caloric, phase: 'liquid' | 'vapour', T_end: number) {
    this.#equation = equation;
    this.#dome = dome;
    this.#kind = kind;
    this.#phase = phase;
    this.#T_end = T_end;
    const [low, high] = [Math.log(dome.p_min), Math.log(dome.p_max)];
    const ends = seriesNodes(low, high, 1).map((logP) => this.#atEnd(Math.exp(logP)));
    this.#end = new Series(low, high, ends);
    this.#starts = new Starts(dome.p_min, dome.p_max, (p, share) => this.#solve(p, share));
  }

  /** `saturated`: enthalpy or entropy of this phase at saturation. */
  start(p: number, target: number, saturated: number): void {
    const share = (target - saturated) / (this.#end.at(Math.log(p)) - saturated);
    this.#starts.evaluate(p, Math.max(0, Math.min(1, share)) || 0);
    this.#equation.at(this.#starts.T, this.#starts.rho);
  }

  #atEnd(p: number): number {
    const rho = densityAt(this.#equation, this.#dome, this.#T_end, p, this.#phase);
    assert(rho !== null, 'a density was found at the end of an isobar');
    this.#equation.complete();
    return this.#equation[this.#kind];
  }

  /** From the state solved before, which lies nearer to saturation. */
  #solve(p: number, share: number): { T: number; rho: number } {
    const [equation, dome, kind, phase] = [this.#equation, this.#dome, this.#kind, this.#phase];
    const saturation = dome.temperature(p);
    const saturated = phase === 'liquid' ? dome.liquid(kind, saturation) : dome.vapour(kind, saturation);
    const target = saturated + share * (this.#end.at(Math.log(p)) - saturated);
    if (Math.abs(equation.p / p - 1) > 1e-6) {
      equation.at(saturation, phase === 'liquid' ? dome.liquidDensity(saturation) : dome.vapourDensity(saturation));
    }
    const [low, high] = [0.99 * Math.min(saturation, this.#T_end), 1.01 * Math.max(saturation, this.#T_end)];
    if (!newton(equation, kind, p, target, low, high)) {
      assert(bracket(equation, dome, { kind, p, target, phase }, low, high) === 'found', 'isobars can be followed');
    }
    return { T: equation.T, rho: equation.rho };
  }
}
