import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import type { CriticalPoint } from './critical.ts';
import { densityAt } from './density.ts';
import { type Caloric, Dome } from './dome.ts';
import { Equation } from './equation.ts';
import { bracket, newton } from './flash.ts';
import { Isobars } from './isobars.ts';
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
  readonly #liquid: Readonly<Record<Caloric, Isobars>>;
  readonly #vapour: Readonly<Record<Caloric, Isobars>>;

  constructor(data: RefrigerantData) {
    this.name = data.name;
    this.label = data.label;
    this.molarMass = data.molar_mass_kg_per_mol;
    this.#equation = new Equation(data);
    const dome = new Dome(this.#equation);
    this.#dome = dome;
    const isobars = (phase: 'liquid' | 'vapour', T_end: number) => ({
      h: new Isobars(this.#equation, dome, 'h', phase, T_end),
      s: new Isobars(this.#equation, dome, 's', phase, T_end),
    });
    this.#liquid = isobars('liquid', dome.T_min);
    this.#vapour = isobars('vapour', data.validity.T_max_K);
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
    this.#equation.complete();
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
    this.#dome.atPressure(p);
    return ok(saturatedState(this.#equation, this.#dome, q));
  }

  TQ(T: number, q: number): Result<State> {
    if (!(q >= 0 && q <= 1)) return fail('refrigerant_out_of_range', `quality is 0 to 1, not ${q}`);
    if (!this.#dome.holdsTemperature(T)) return this.#noSaturation(`T = ${T} K`);
    this.#dome.atTemperature(T);
    return ok(saturatedState(this.#equation, this.#dome, q));
  }

  saturationTemperature(p: number): Result<number> {
    if (!this.#dome.holdsPressure(p)) return this.#noSaturation(`p = ${p} Pa`);
    return ok(this.#dome.temperature(p));
  }

  saturationPressure(T: number): Result<number> {
    if (!this.#dome.holdsTemperature(T)) return this.#noSaturation(`T = ${T} K`);
    return ok(this.#dome.pressure(T));
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
    const dome = this.#dome;
    const T = dome.temperature(p);
    const vapour = dome.vapour(kind, T);
    const liquid = dome.liquid(kind, T);
    const q = (target - liquid) / (vapour - liquid);
    if (q > 1 + SATURATED) {
      this.#vapour[kind].start(p, target, vapour);
      return this.#finish({ kind, p, target, phase: 'vapour' }, T);
    }
    if (q < -SATURATED) {
      this.#liquid[kind].start(p, target, liquid);
      return this.#finish({ kind, p, target, phase: 'liquid' }, T);
    }
    dome.atPressure(p);
    if (q < SATURATED) return ok(saturatedState(this.#equation, dome, 0));
    return ok(saturatedState(this.#equation, dome, q > 1 - SATURATED ? 1 : q));
  }

  /** Vapour at a pressure below that of saturation at T_min: from there up to T_max. */
  #coldVapour(kind: Caloric, p: number, target: number): Result<State> {
    const T = this.range.T_min;
    const equation = this.#equation;
    const cold = densityAt(equation, this.#dome, T, p, 'vapour');
    if (cold === null) return this.#noSolution(`T = ${T} K, p = ${p} Pa`);
    equation.complete();
    const { cp, rho } = equation;
    const warmer = kind === 'h' ? T + (target - equation.h) / cp : T * Math.exp((target - equation.s) / cp);
    const start = Math.min(warmer, this.range.T_max);
    equation.at(start, (rho * T) / start);
    return this.#finish({ kind, p, target, phase: 'vapour' }, T);
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
    if (found === 'found') {
      equation[kind] = target;
      return ok(singlePhase(equation, p, phase, null));
    }
    if (found === 'lost') return this.#noSolution(`p = ${p} Pa, ${kind} = ${target}`);
    return this.#outOfRange(`p = ${p} Pa, ${kind} = ${target}`);
  }

  /** Null on the saturation line itself. */
  #phaseAt(T: number, p: number): 'liquid' | 'vapour' | null {
    const dome = this.#dome;
    if (!dome.holdsTemperature(T)) return 'vapour';
    const above = p / dome.pressure(T) - 1;
    if (Math.abs(above) < ON_THE_LINE) return null;
    return above > 0 ? 'liquid' : 'vapour';
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
