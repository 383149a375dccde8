/** What the calculation of one interval starts from. */
import { assert } from '../base/result.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import type { Circuit } from './arrangements/type.ts';
import type { Quantity, Value } from './context.ts';
import type { ChillerParameters } from './parameters.ts';

export interface Input {
  readonly name: string;
  /** NaN where there is none. */
  readonly value: number;
  /** Standard uncertainty, k = 1, SI. */
  readonly u: number;
  /** The part of `u` that all gauges open to the same air share, Pa; 0 where none is. */
  readonly barometer: number;
  /** The part of `u` that is new in each interval; 0 for assumptions, and where nothing tells it. */
  readonly random: number;
  /** Why there is no value. */
  readonly reason: string | null;
}

/** The quantities of one way of running, numbered. */
export class Table {
  readonly index: ReadonlyMap<string, number>;
  readonly quantities: readonly Quantity[];
  readonly circuit: Circuit;
  readonly other: Circuit | null;

  constructor(quantities: readonly Quantity[], circuit: Circuit, other: Circuit | null) {
    this.quantities = quantities;
    this.circuit = circuit;
    this.other = other;
    const index = new Map<string, number>();
    quantities.forEach((quantity, at) => {
      assert(!index.has(quantity.name), `quantity ${quantity.name} is defined once`);
      index.set(quantity.name, at);
    });
    this.index = index;
  }
}

/** What all ledgers of one interval share. */
export interface Interval {
  readonly parameters: ChillerParameters;
  readonly refrigerant: Refrigerant;
  readonly table: Table;
  readonly inputs: readonly Input[];
  readonly inputIndex: ReadonlyMap<string, number>;
  readonly economizing: boolean;
  /** Inputs that told whether the economizer runs, and what is doubtful about it. */
  readonly economizingFrom: readonly string[];
  readonly economizingDoubt: string | null;
  /** Values that are given instead of computed (forward design). */
  readonly given: ReadonlyMap<string, Value>;
}
