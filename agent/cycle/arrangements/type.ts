/**
 * An arrangement is data: nodes (states of the circuit), streams (flows), junctions (mass) and balances (energy).
 * Forward design and solving from points both read these tables; a reconciliation can weigh the same balances as
 * residuals over named quantities.
 */

/** A place where pressure is measured; all nodes of a level share it. */
export type Level = 'evaporator' | 'flash_tank' | 'condenser';

export type MachineName = 'main_compressor' | 'economizer_compressor';

/** How the state of a node follows from levels, temperatures and nodes before it. */
export type NodeRule =
  | { readonly kind: 'suction'; readonly level: Level }
  | { readonly kind: 'discharge'; readonly machine: MachineName }
  | { readonly kind: 'between_stages'; readonly at: 'first_discharge' | 'second_suction' }
  | { readonly kind: 'condensed_liquid'; readonly level: Level }
  | { readonly kind: 'expansion'; readonly from: string; readonly level: Level }
  | { readonly kind: 'saturated_liquid'; readonly level: Level }
  | { readonly kind: 'saturated_vapour'; readonly level: Level };

export interface Node {
  readonly number: string;
  readonly where: string;
  /** The stream whose mass flow is shown at this node. */
  readonly stream: string;
  readonly rule: NodeRule;
}

/** Mass: what enters equals what leaves, stream names. */
export interface Junction {
  readonly name: string;
  readonly enters: readonly string[];
  readonly leaves: readonly string[];
}

export interface Crossing {
  readonly stream: string;
  readonly node: string;
}

/**
 * Energy: sum of m h entering + heat + work = sum of m h leaving. `heat` and `work` name a quantity in W; null: nothing
 * crosses.
 */
export interface Balance {
  readonly name: string;
  readonly enters: readonly Crossing[];
  readonly leaves: readonly Crossing[];
  readonly heat: { readonly quantity: string; readonly sign: 1 | -1 } | null;
  readonly work: string | null;
}

export interface Machine {
  readonly name: MachineName;
  readonly stream: string;
  readonly suction: string;
  readonly discharge: string;
  readonly to: Level;
  /** Where vapour joins between two stages: the level's pressure, and the node of the vapour. */
  readonly port?: { readonly level: Level; readonly vapour: string };
}

/** One way the circuit runs. */
export interface Circuit {
  /** In an order in which each node needs only those before it. */
  readonly nodes: readonly Node[];
  readonly junctions: readonly Junction[];
  readonly balances: readonly Balance[];
  readonly machines: readonly Machine[];
}

export interface Arrangement {
  readonly name: string;
  /** As built, economizer (if any) running. */
  readonly on: Circuit;
  /** With the economizer's vapour line closed; null where there is none. */
  readonly off: Circuit | null;
  /** The same machine built without economizer, for comparison; null where there is none. */
  readonly without: Circuit | null;
}
