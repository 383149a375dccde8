import type { Result } from '../base/result.ts';
import type { CriticalPoint } from './critical.ts';

/** `supercritical`: above critical temperature and pressure. Above the critical temperature alone it is vapour. */
export type Phase = 'liquid' | 'vapour' | 'two-phase' | 'supercritical';

/**
 * A state, SI: T K, p Pa, rho kg/m3, h J/kg, s J/(kg K), each in the reference state of the equation (IIR: 200 kJ/kg
 * and 1 kJ/(kg K) for saturated liquid at 0 degC). q: vapour by mass, 0 to 1 where two-phase or saturated, else null.
 * cp, cv J/(kg K) and sound speed w m/s: null inside the dome (0 < q < 1), where they have no one meaning.
 */
export interface State {
  readonly T: number;
  readonly p: number;
  readonly rho: number;
  readonly h: number;
  readonly s: number;
  readonly q: number | null;
  readonly cp: number | null;
  readonly cv: number | null;
  readonly w: number | null;
  readonly phase: Phase;
}

/** Where states are given; outside is the fault `refrigerant_out_of_range`. K and Pa. */
export interface Range {
  readonly T_min: number;
  readonly T_max: number;
  readonly p_min: number;
  readonly p_max: number;
  /** Saturation: from T_min up to 0.99 of the critical temperature. */
  readonly saturation: { readonly T_max: number; readonly p_min: number; readonly p_max: number };
}

/**
 * One refrigerant. Every call answers for any numbers, finite or not: a state or a fault (`refrigerant_out_of_range`,
 * `refrigerant_no_solution`), never a throw. Equal inputs give equal answers to the last bit.
 */
export interface Refrigerant {
  /** As the project writes it: `R1233zdE`. */
  readonly name: string;
  /** As the trade writes it: `R-1233zd(E)`. */
  readonly label: string;
  /** kg/mol */
  readonly molarMass: number;
  /** Critical point of the equation itself (papers round it): K, Pa, kg/m3. */
  readonly critical: CriticalPoint;
  readonly range: Range;
  /**
   * Single phase alone. On the saturation line itself (within 1e-9 of pressure) T and p leave the quality open: a
   * fault; use PQ or TQ.
   */
  TP(T: number, p: number): Result<State>;
  PH(p: number, h: number): Result<State>;
  PS(p: number, s: number): Result<State>;
  PQ(p: number, q: number): Result<State>;
  TQ(T: number, q: number): Result<State>;
  /** Of a pure refrigerant, where bubble and dew point are one. */
  saturationTemperature(p: number): Result<number>;
  saturationPressure(T: number): Result<number>;
  /** Where condensing ends and boiling starts: liquid, subcooling. */
  bubbleTemperature(p: number): Result<number>;
  bubblePressure(T: number): Result<number>;
  /** Where boiling ends and condensing starts: vapour, superheat. */
  dewTemperature(p: number): Result<number>;
  dewPressure(T: number): Result<number>;
}
