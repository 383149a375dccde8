import type { Figure } from '../base/metric.ts';

/**
 * A thermodynamic state of the circuit, SI: K, Pa, J/kg, J/(kg K); quality q of vapour by mass where two-phase or
 * saturated, else null; flow m in kg/s where known.
 */
export interface CycleState {
  readonly T: number;
  readonly p: number;
  readonly h: number;
  readonly s: number;
  readonly q: number | null;
  readonly m: number | null;
}

/**
 * `on`: vapour leaves the tank through its compressor; `off`: it cannot; `none`: the arrangement has no economizer;
 * `unknown`: the points do not say.
 */
export type EconomizerState = 'on' | 'off' | 'none' | 'unknown';

/**
 * One interval, solved. Points numbered as in the trade's pressure-enthalpy diagram (1 suction ... 8 economizer
 * discharge).
 */
export interface Solution {
  readonly economizer: EconomizerState;
  readonly states: Readonly<Record<string, CycleState>>;
  /**
   * The circuit as it would run the other way: without the economizer while it is on, with it while it is off. Same
   * numbering.
   */
  readonly ghost: Readonly<Record<string, CycleState>>;
  /** Every metric of the cycle by name, catalogue units; those that the points do not carry have null and a reason. */
  readonly metrics: Readonly<Record<string, Figure>>;
  /** Metrics that this machine's points can never give, whatever the minute. */
  readonly unobservable: readonly string[];
}
