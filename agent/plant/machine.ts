/**
 * What every emulated machine of the scenario answers, whatever its arrangement. A new machine is a new file that
 * builds one of these.
 */
import type { PlantPoint } from './point-map.ts';
import type { Sensor } from './sensor.ts';

export type ValveName = 'condenser_valve' | 'tank_valve';

/** Means over an interval are taken of these; null: has no meaning now (the economizer is off). Catalogue units. */
export type MetricValues = Record<string, number | null>;

export interface Machine {
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
  /** Faults. */
  lockEconomizer(locked: boolean): void;
  /** Friction of a valve's stem as a part of its stroke. */
  stick(valve: ValveName, amount: number): void;
  readonly balances: Balances;
}

/** The plant's own account, for those who check it. kg and J. */
export interface Balances {
  refrigerantMass(): number;
  storedEnergy(): number;
  /** Energy that came in over the boundary less what went out, since the start. */
  netEnergyIn(): number;
  /** Sum of the magnitudes of what crossed the boundary, since the start. */
  throughput(): number;
}
