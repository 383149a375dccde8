import type { Missing } from '../base/metric.ts';
import type { Refrigerant, State } from '../refrigerant/types.ts';
import type { Circuit } from './arrangements/type.ts';
import type { Flows } from './balances.ts';
import type { ChillerParameters } from './parameters.ts';

/** Which balance gives the capacity. */
export type CapacityMethod = 'chilled_water' | 'power' | 'condenser_water';

/**
 * What a quantity may ask while it is computed. A figure that is not there answers NaN (a state: all NaN) and its
 * reason becomes the reason of the quantity that asked, so formulas are written plainly and NaN never gets out: a
 * quantity with a reason is missing.
 */
export interface CycleContext {
  readonly parameters: ChillerParameters;
  readonly refrigerant: Refrigerant;
  /** The circuit as it runs now, and as it would run the other way (null: there is no other way). */
  readonly circuit: Circuit;
  readonly other: Circuit | null;
  /** Vapour leaves the tank. Whatever depends on it asks here, so that doubt about it is carried along. */
  economizing(): boolean;
  /** The balance chosen for the capacity; null where none is possible. */
  readonly capacityMethod: CapacityMethod | null;
  /** A measured point, SI. */
  point(name: string): number;
  /** A stated assumption, SI: see `assumptions.ts`. */
  assumed(name: string): number;
  /** Whether a point, quantity or metric has a value now; asking leaves no reason behind. */
  hasPoint(name: string): boolean;
  /** Why a point has no value; null where it has one. */
  whyPoint(name: string): string | null;
  has(name: string): boolean;
  /** Whether this way of running has a quantity of that name. */
  knows(name: string): boolean;
  /** Why a quantity or metric has no value; null where it has one. Asking leaves no reason behind. */
  why(name: string): string | null;
  figure(name: string): number;
  state(name: string): State;
  flows(name: string): Flows;
  /** `return c.missing('...')`: there is no value, for this reason (lower case, no full stop). */
  missing(reason: string): Missing;
  /** Takes the value of a property call, or records its fault. */
  take(result: ReturnType<Refrigerant['TP']>): State;
  /** The value stays, its quality is uncertain for this reason. */
  doubt(reason: string): void;
}

export type Value = number | State | Flows | Missing;

/** A named step of the calculation that is not published. */
export interface Quantity {
  readonly name: string;
  compute(c: CycleContext): Value;
}
