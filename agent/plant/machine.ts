/**
 * What every emulated machine of the scenario answers, whatever its arrangement. A new machine is a new file that
 * builds one of these.
 */
import type { PlantPoint } from './point-map.ts';
import type { Sensor } from './sensor.ts';

export type ValveName = 'condenser_valve' | 'tank_valve';

/** Means over an interval are taken of these; null: has no meaning now (the economizer is off). Catalogue units. */
export type MetricValues = Record<string, number | null>;

/** What faults do to a machine. Parts of 1 where not said otherwise; 0 or false takes a fault back. */
export interface Ailing {
  /** The economizer is held off. */
  lockEconomizer(locked: boolean): void;
  /** Friction of a valve's stem as a part of its stroke. */
  stick(valve: ValveName, amount: number): void;
  /** By how much of itself the gain of a level loop is too high. */
  detune(valve: ValveName, amount: number): void;
  /** An orderly stop; taken back: an orderly start. */
  halt(asked: boolean): void;
  /** Load held at a part of rated capacity; null: by the day. */
  holdLoad(part: number | null): void;
  /** Loss of the condenser's conductance. */
  foul(part: number): void;
  /** Refrigerant that is missing. */
  undercharge(part: number): void;
  /** Partial pressure (Pa) that the air let in has in the condenser at design. */
  admitAir(pressure: number): void;
  /** Liquid in the vapour that leaves the tank. */
  carryOver(part: number): void;
  /** Loss of the economizer compressor's efficiency; without effect where there is none. */
  wearEconomizer(part: number): void;
}

export interface Machine extends Ailing {
  readonly name: string;
  readonly points: readonly PlantPoint[];
  /** The true SI value of every point. */
  readonly readings: Readonly<Record<string, () => number>>;
  /** Absolute pressure of the day, Pa. */
  barometer(): number;
  /** One second of the plant's clock; `second` counts from midnight UTC. */
  step(second: number, sensors: ReadonlyMap<string, Sensor>): void;
  /** Instantaneous metrics from the true states, into `out`. */
  metrics(out: MetricValues): void;
  readonly balances: Balances;
}

/** The plant's own account, for those who check it. kg and J. */
export interface Balances {
  refrigerantMass(): number;
  /** Put in less lost over the boundary since the start. */
  refrigerantAdded(): number;
  storedEnergy(): number;
  /** Energy that came in over the boundary less what went out, since the start. */
  netEnergyIn(): number;
  /** Sum of the magnitudes of what crossed the boundary, since the start. */
  throughput(): number;
}
