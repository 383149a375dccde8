/**
 * An arrangement is data: nodes (states of the circuit), streams (flows), junctions (mass) and balances (energy).
 * Forward design and solving from points both read these tables; a reconciliation can weigh the same balances as
 * residuals over named quantities.
 */

/** A place where pressure is measured; all nodes of a level share it. */
export type Level = 'evaporator' | EconomizerLevel | 'condenser';

/** Between evaporator and condenser: a tank, or the side of the subcooler on which the branch boils off. */
export type EconomizerLevel = 'flash_tank' | 'flash_tank_2' | 'economizer';

export type MachineName = 'main_compressor' | 'economizer_compressor';

/** How the state of a node follows from levels, temperatures and nodes before it. */
export type NodeRule =
  | { readonly kind: 'suction'; readonly level: Level }
  | { readonly kind: 'discharge'; readonly machine: MachineName }
  /** Leaving a stage (numbered from 1), or entering it after vapour was mixed in. */
  | { readonly kind: 'between_stages'; readonly at: StageEnd }
  | { readonly kind: 'condensed_liquid'; readonly level: Level }
  | { readonly kind: 'expansion'; readonly from: string; readonly level: Level }
  /** Liquid at condenser pressure, cooled by what boils off at the level; and the vapour of that. */
  | { readonly kind: 'cooled_liquid'; readonly level: Level }
  | { readonly kind: 'boiled_off'; readonly level: Level }
  | { readonly kind: 'saturated_liquid'; readonly level: Level }
  | { readonly kind: 'saturated_vapour'; readonly level: Level };

export type StageEnd = 'out_1' | 'in_2' | 'out_2' | 'in_3';

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
  /** Where vapour joins between stages, from low pressure to high. */
  readonly ports?: readonly Port[];
}

/** The level whose pressure the port has, the node of the vapour and its stream. */
export interface Port {
  readonly level: EconomizerLevel;
  readonly vapour: string;
  readonly stream: string;
}

/** A vessel whose liquid level is measured. */
export type Vessel = 'condenser' | 'flash_tank' | 'flash_tank_2';

export const VESSELS: readonly Vessel[] = ['condenser', 'flash_tank', 'flash_tank_2'];

/** Liquid that a vessel takes up while its level rises, and the node whose enthalpy it has. */
export interface Pool {
  readonly vessel: Vessel;
  readonly node: string;
}

/** Where liquid stands in a circuit, for `storing`. */
export interface Liquid {
  /** Streams into which what leaves the condenser divides, beside motor cooling. */
  readonly leaving: readonly string[];
  readonly pools: readonly Pool[];
}

/** One way the circuit runs. */
export interface Circuit {
  /** In an order in which each node needs only those before it. */
  readonly nodes: readonly Node[];
  readonly junctions: readonly Junction[];
  readonly balances: readonly Balance[];
  readonly machines: readonly Machine[];
  readonly liquid: Liquid;
  /** Vessels that take up or give liquid in these junctions and balances; none as the tables stand. */
  readonly stored?: readonly Pool[];
}

export interface Arrangement {
  readonly name: string;
  /** How the economizer's vapour gets on: through a compressor of its own, or into a port between stages. */
  readonly economizer: 'none' | 'own_compressor' | 'between_stages';
  /** As built, economizer (if any) running. */
  readonly on: Circuit;
  /** With the economizer's vapour line closed; null where there is none. */
  readonly off: Circuit | null;
  /** The same machine built without economizer, for comparison; null where there is none. */
  readonly without: Circuit | null;
}
