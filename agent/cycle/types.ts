import type { Figure } from '../base/metric.ts';
import type { CapacityMethod } from './context.ts';

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

/** What the balances say of the readings: how far each had to give, and which may be off. */
export interface Reconciliation {
  /** Null where nothing is redundant: then there is nothing to test. */
  readonly chi_square: { readonly value: number; readonly dof: number; readonly p: number } | null;
  /** Standardized correction z of each point and assumption that the balances check; positive where it was raised. */
  readonly corrections: Readonly<Record<string, number>>;
  /**
   * Explanations of a contradiction, the best first, each a group that cannot be told apart. One group of one: named.
   * Empty where nothing contradicts, or where no single error explains it.
   */
  readonly suspects: readonly (readonly string[])[];
  /** What cannot be told apart whatever the readings, each with its members. */
  readonly groups: readonly (readonly string[])[];
  /** Measured points as far as a figure or a balance uses them. */
  readonly points: Readonly<Record<string, ReconciledPoint>>;
  /** Metrics that would still be there if any single one of their sensors failed. */
  readonly redundant: readonly string[];
  /** Relations of the circuit, what did not close in them before and after; W, kg/s or a ratio as `unit` says. */
  readonly balances: readonly BalanceFigure[];
  /** Why the readings could not be brought into agreement; null where they could, or nothing had to. */
  readonly problem: string | null;
}

export interface ReconciledPoint {
  /** As measured and as reconciled, SI. */
  readonly measured: number;
  readonly value: number;
  /** Standard uncertainty before and after, k = 1, SI. */
  readonly before: number;
  readonly after: number;
  /** The part of `before` (in quadrature) that is new in each interval. */
  readonly random: number;
  /** The other points tell it too. */
  readonly redundant: boolean;
  /** What it would be off by if it alone were wrong, with k = 1, SI; null where the others do not check it. */
  readonly off: { readonly value: number; readonly u: number } | null;
}

export interface BalanceFigure {
  readonly name: string;
  readonly unit: 'kg/s' | 'W' | '1';
  readonly before: number;
  readonly after: number;
}

/** The main compressor by the readings as they are, SI. */
export interface Operating {
  /** Which balance its flow comes from. */
  readonly method: CapacityMethod;
  /** Suction volume flow, and what it would be without economizer at this capacity (null while that is off): m3/s. */
  readonly flow: number;
  readonly without: number | null;
  /** Isentropic head, J/kg; sound speed at suction, m/s. */
  readonly head: number;
  readonly sound: number;
  /** Isentropic, or polytropic where vapour joins between stages. */
  readonly efficiency: number;
  /** Relative standard uncertainty of the efficiency by what it would not come from without economizer. */
  readonly apart: number;
  /** The same by the pressure of the air that gauges are open to: another one on another day. */
  readonly air: number;
}

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
  readonly reconciliation: Reconciliation;
  /** Null where the points do not tell it, or the machine stands. */
  readonly operating: Operating | null;
  /** Metrics that this machine's points can never give, whatever the minute. */
  readonly unobservable: readonly string[];
}
