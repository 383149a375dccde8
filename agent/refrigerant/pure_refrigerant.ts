import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import type { CriticalPoint } from './critical.ts';
import { densityAt } from './density.ts';
import { Dome } from './dome.ts';
import { Equation } from './equation.ts';
import { bracket, type Caloric, newton } from './flash.ts';
import type { RefrigerantData } from './shape.ts';
import { saturatedState, singlePhase } from './states.ts';
import type { Range, Refrigerant, State } from './types.ts';

/** Relative distance of p from saturation within which T and p do not tell liquid from vapour. */
const ON_THE_LINE = 1e-9;
/** A quality this near 0 or 1 is saturated: rounding of h or s, not vapour or liquid. */
const SATURATED = 1e-10;
/** Rounding of inputs forgiven at the ends of the range. */
const END_SLACK = 1e-6;

/** A refrigerant of one component, from its equation of state. Built once per name by `refrigerants.ts`. */
export class PureRefrigerant implements Refrigerant {
  readonly name: string;
  readonly label: string;
  readonly molarMass: number;
  readonly critical: CriticalPoint;
  readonly range: Range;
  readonly #equation: Equation;
  readonly #dome: Dome;

  constructor(data: RefrigerantData) {
    this.name = data.name;
    this.label = data.label;
    this.molarMass = data.molar_mass_kg_per_mol;
    this.#equation = new Equation(data);
    const dome = new Dome(this.#equation);
    this.#dome = dome;
    this.critical = dome.critical;
    this.range = {
      T_min: dome.T_min,
      T_max: data.validity.T_max_K,
      p_min: LIMITS.refrigerant_pressure_Pa_min,
      // The larger of 3 MPa and this is this one for every refrigerant carried: a test holds that.
      p_max: dome.p_max,
      saturation: { T_max: dome.T_max, p_min: dome.p_min, p_max: dome.p_max },
    };
  }

  TP(T: number, p: number): Result<State> {
    if (!this.#inRange(T, p)) return this.#outOfRange(`T = ${T} K, p = ${p} Pa`);
    const phase = this.#phaseAt(T, p);
    if (phase === null) {
      return fail(
        'refrigerant_no_solution',
        `${this.label}: T = ${T} K and p = ${p} Pa lie on the saturation line, which leaves the quality open; ` +
          'give PQ or TQ',
      );
    }
    const rho = densityAt(this.#equation, this.#dome, T, p, phase);
    if (rho === null) return this.#noSolution(`T = ${T} K, p = ${p} Pa`);
    this.#equation.at(T, rho);
    return ok(singlePhase(this.#equation, p, phase, null));
  }

  PH(p: number, h: number): Result<State> {
    return this.#caloric('h', p, h);
  }

  PS(p: number, s: number): Result<State> {
    return this.#caloric('s', p, s);
  }

  PQ(p: number, q: number): Result<State> {
    if (!(q >= 0 && q <= 1)) return fail('refrigerant_out_of_range', `quality is 0 to 1, not ${q}`);
    if (!this.#dome.holdsPressure(p)) return this.#noSaturation(`p = ${p} Pa`);
    if (!this.#dome.atPressure(p)) return this.#noSolution(`saturation at p = ${p} Pa`);
    return ok(saturatedState(this.#equation, this.#dome.found, q));
  }

  TQ(T: number, q: number): Result<State> {
    if (!(q >= 0 && q <= 1)) return fail('refrigerant_out_of_range', `quality is 0 to 1, not ${q}`);
    if (!this.#dome.holdsTemperature(T)) return this.#noSaturation(`T = ${T} K`);
    if (!this.#dome.atTemperature(T)) return this.#noSolution(`saturation at T = ${T} K`);
    return ok(saturatedState(this.#equation, this.#dome.found, q));
  }

  saturationTemperature(p: number): Result<number> {
    if (!this.#dome.holdsPressure(p)) return this.#noSaturation(`p = ${p} Pa`);
    return this.#dome.atPressure(p) ? ok(this.#dome.found.T) : this.#noSolution(`saturation at p = ${p} Pa`);
  }

  saturationPressure(T: number): Result<number> {
    if (!this.#dome.holdsTemperature(T)) return this.#noSaturation(`T = ${T} K`);
    return this.#dome.atTemperature(T) ? ok(this.#dome.found.p) : this.#noSolution(`saturation at T = ${T} K`);
  }

  bubbleTemperature(p: number): Result<number> {
    return this.saturationTemperature(p);
  }

  bubblePressure(T: number): Result<number> {
    return this.saturationPressure(T);
  }

  dewTemperature(p: number): Result<number> {
    return this.saturationTemperature(p);
  }

  dewPressure(T: number): Result<number> {
    return this.saturationPressure(T);
  }

  /** Pressure with enthalpy or entropy: liquid, two-phase or vapour, told by the saturated values at that pressure. */
  #caloric(kind: Caloric, p: number, target: number): Result<State> {
    if (!this.#pressureInRange(p) || !Number.isFinite(target))
      return this.#outOfRange(`p = ${p} Pa, ${kind} = ${target}`);
    if (!this.#dome.holdsPressure(p)) return this.#coldVapour(kind, p, target);
    const equation = this.#equation;
    const dome = this.#dome;
    if (!dome.atPressure(p)) return this.#noSolution(`saturation at p = ${p} Pa`);
    const { T, rhoLiquid, rhoVapour } = dome.found;
    equation.at(T, rhoVapour);
    const vapour = equation[kind];
    if (target >= vapour) {
      if (target === vapour) return ok(saturatedState(equation, dome.found, 1));
      return this.#superheated(kind, p, target, T);
    }
    equation.at(T, rhoLiquid);
    const liquid = equation[kind];
    const q = (target - liquid) / (vapour - liquid);
    if (q > SATURATED && q < 1 - SATURATED) return ok({ ...saturatedState(equation, dome.found, q), [kind]: target });
    if (q > -SATURATED) return ok(saturatedState(equation, dome.found, q < 0.5 ? 0 : 1));
    return this.#subcooled(kind, p, target, T);
  }

  /** From saturated vapour, which the equation holds, up to T_max. */
  #superheated(kind: Caloric, p: number, target: number, T: number): Result<State> {
    const equation = this.#equation;
    const { cp, rho } = equation;
    const warmer = kind === 'h' ? T + (target - equation.h) / cp : T * Math.exp((target - equation.s) / cp);
    const start = Math.min(warmer, this.range.T_max);
    equation.at(start, (rho * T) / start);
    return this.#finish({ kind, p, target, phase: 'vapour' }, T);
  }

  /** Vapour at a pressure below that of saturation at T_min. */
  #coldVapour(kind: Caloric, p: number, target: number): Result<State> {
    const T = this.range.T_min;
    const rho = densityAt(this.#equation, this.#dome, T, p, 'vapour');
    if (rho === null) return this.#noSolution(`T = ${T} K, p = ${p} Pa`);
    this.#equation.at(T, rho);
    return this.#superheated(kind, p, target, T);
  }

  /** From saturated liquid, which the equation holds, down to T_min. */
  #subcooled(kind: Caloric, p: number, target: number, T: number): Result<State> {
    const equation = this.#equation;
    const { cp } = equation;
    const colder = kind === 'h' ? T + (target - equation.h) / cp : T * Math.exp((target - equation.s) / cp);
    const start = Math.max(colder, this.range.T_min);
    equation.at(start, this.#dome.estimateLiquidDensity(start));
    return this.#finish({ kind, p, target, phase: 'liquid' }, T);
  }

  #finish(
    given: { kind: Caloric; p: number; target: number; phase: 'liquid' | 'vapour' },
    saturation: number,
  ): Result<State> {
    const { kind, p, target, phase } = given;
    const equation = this.#equation;
    const low = (phase === 'vapour' ? saturation : this.range.T_min) * (1 - END_SLACK);
    const high = (phase === 'vapour' ? this.range.T_max : saturation) * (1 + END_SLACK);
    const found = newton(equation, kind, p, target, low, high)
      ? 'found'
      : bracket(equation, this.#dome, given, low, high);
    if (found === 'found') return ok({ ...singlePhase(equation, p, phase, null), [kind]: target });
    if (found === 'lost') return this.#noSolution(`p = ${p} Pa, ${kind} = ${target}`);
    return this.#outOfRange(`p = ${p} Pa, ${kind} = ${target}`);
  }

  /** Null on the saturation line itself. The series decide unless they are too near to tell. */
  #phaseAt(T: number, p: number): 'liquid' | 'vapour' | null {
    const dome = this.#dome;
    if (!dome.holdsTemperature(T)) return 'vapour';
    let saturation = dome.estimatePressure(T);
    if (Math.abs(p / saturation - 1) < 1e-6) {
      if (!dome.atTemperature(T)) return null;
      saturation = dome.found.p;
      if (Math.abs(p / saturation - 1) < ON_THE_LINE) return null;
    }
    return p > saturation ? 'liquid' : 'vapour';
  }

  #pressureInRange(p: number): boolean {
    return p >= this.range.p_min && p <= this.range.p_max * (1 + END_SLACK);
  }

  #inRange(T: number, p: number): boolean {
    const { T_min, T_max } = this.range;
    return this.#pressureInRange(p) && T >= T_min * (1 - END_SLACK) && T <= T_max * (1 + END_SLACK);
  }

  #outOfRange(given: string): Result<never> {
    const { T_min, T_max, p_min, p_max } = this.range;
    return fail(
      'refrigerant_out_of_range',
      `${this.label}: ${given} is outside ${T_min} to ${T_max} K and ${p_min} to ${Math.floor(p_max)} Pa; ` +
        'check values and units',
    );
  }

  #noSaturation(given: string): Result<never> {
    const { T_max, p_min, p_max } = this.range.saturation;
    return fail(
      'refrigerant_out_of_range',
      `${this.label}: ${given} is outside the saturation line, ${this.range.T_min} to ${T_max.toFixed(2)} K, ` +
        `${Math.ceil(p_min)} to ${Math.floor(p_max)} Pa; check values and units`,
    );
  }

  #noSolution(given: string): Result<never> {
    return fail('refrigerant_no_solution', `${this.label}: no state was found for ${given}`);
  }
}
