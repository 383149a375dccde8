/**
 * The emulated plant by its own clock: machine, sensors, faults. Deterministic by seed; it starts warm, as a machine
 * that has run for hours.
 */
import { assert } from '../base/result.ts';
import { applyFaults, type Communication, type PlantFault } from './faults.ts';
import type { Machine } from './machine.ts';
import { Sensor } from './sensor.ts';

export interface PlantOptions {
  readonly machine: Machine;
  readonly seed: number;
  /** The plant's clock at the start, ms since the epoch; taken to the whole second. */
  readonly start: number;
  readonly faults: readonly PlantFault[];
  /** Seconds by which the day of load and weather runs ahead of the clock (default 0). */
  readonly dayShift?: number;
  /** Seconds run before the start, so that it begins near steady. */
  readonly warmUp?: number;
}

/** Called after every second of the plant's clock. */
export interface SecondListener {
  second(plant: Plant): void;
}

const WARM_UP = 3 * 3600;
const DAY = 86_400;

export class Plant {
  readonly machine: Machine;
  readonly sensors: ReadonlyMap<string, Sensor>;
  readonly listeners: SecondListener[] = [];
  communication: Communication = 'up';
  /** Whole seconds since the epoch, by the plant's clock. */
  clock: number;
  readonly startClock: number;
  private readonly faults: readonly PlantFault[];
  private readonly dayShift: number;

  constructor(options: PlantOptions) {
    const { machine, seed } = options;
    this.machine = machine;
    this.faults = options.faults;
    this.dayShift = options.dayShift ?? 0;
    this.startClock = Math.floor(options.start / 1000);
    const sensors = new Map<string, Sensor>();
    for (const point of machine.points) {
      const truth = machine.readings[point.name];
      assert(truth !== undefined, `${machine.name} has a reading for ${point.name}`);
      sensors.set(point.name, new Sensor(point, { truth, barometer: () => machine.barometer(), seed }));
    }
    this.sensors = sensors;
    for (const sensor of sensors.values()) sensor.step(1);
    const warmUp = options.warmUp ?? WARM_UP;
    this.clock = this.startClock - warmUp;
    for (let i = 0; i < warmUp; i++) this.second();
    this.clock = this.startClock;
    this.communication = applyFaults(this.faults, 0, machine, sensors);
  }

  /** Seconds since the start. */
  get elapsed(): number {
    return this.clock - this.startClock;
  }

  /** Runs whole seconds of the plant's clock. */
  advance(seconds: number): void {
    for (let i = 0; i < seconds; i++) {
      this.communication = applyFaults(this.faults, this.elapsed, this.machine, this.sensors);
      this.second();
      for (const listener of this.listeners) listener.second(this);
    }
  }

  private second(): void {
    this.machine.step((this.clock + this.dayShift) % DAY, this.sensors);
    this.clock += 1;
    for (const sensor of this.sensors.values()) sensor.step(1);
  }
}
