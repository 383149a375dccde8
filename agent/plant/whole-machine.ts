/** What a machine of any arrangement is as a whole: circuit, controllers, the world around it, and its ills. */
import { WATTS_PER_TON } from '../base/units.ts';
import type { Circuit } from './circuit.ts';
import { Ills } from './ills.ts';
import type { LevelControls } from './level-controls.ts';
import type { Balances, Machine, MetricValues, ValveName } from './machine.ts';
import type { PlantPoint } from './point-map.ts';
import type { Readings } from './readings.ts';
import type { Sensor } from './sensor.ts';
import type { Sequence } from './sequence.ts';
import type { Truth } from './truth.ts';
import { World, type WorldParameters } from './world.ts';

/** Steps of the circuit per second. */
const STEPS = 4;
/** Heat rejected over capacity, near enough to scale the tower's approach. */
const REJECTED = 1.145;

/** What all controls of a machine offer to those who disturb it. */
export interface Controls {
  economizerLocked: boolean;
  stopAsked: boolean;
  readonly levels: LevelControls;
  readonly sequence: Sequence;
}

export interface MachineParts {
  readonly name: string;
  readonly points: readonly PlantPoint[];
  readonly world: WorldParameters;
}

export abstract class WholeMachine implements Machine {
  readonly name: string;
  readonly points: readonly PlantPoint[];
  readonly world: World;
  readonly balances: Balances;
  abstract readonly readings: Readings;
  protected readonly ratedCapacity: number;
  private readonly whole: Circuit;
  protected abstract readonly controls: Controls;
  protected abstract readonly truth: Truth<Circuit>;

  constructor(parts: MachineParts, circuit: Circuit, seed: number) {
    this.name = parts.name;
    this.points = parts.points;
    this.whole = circuit;
    this.world = new World(parts.world, seed);
    this.ratedCapacity = parts.world.ratedTons * WATTS_PER_TON;
    this.balances = balancesOf(circuit);
  }

  /** The controllers' second, by what the sensors say. */
  protected abstract control(sensors: ReadonlyMap<string, Sensor>): void;

  barometer(): number {
    return this.world.barometer;
  }

  step(second: number, sensors: ReadonlyMap<string, Sensor>): void {
    const { whole, world } = this;
    const rejected = whole.condenserHeat / (REJECTED * this.ratedCapacity);
    world.pumps = this.controls.sequence.pumps;
    world.step(1, second, whole.chilledWater.leaving, rejected);
    this.control(sensors);
    for (let i = 0; i < STEPS; i++) whole.step(1 / STEPS, world);
  }

  metrics(out: MetricValues): void {
    this.truth.metrics(out);
  }

  lockEconomizer(locked: boolean): void {
    this.controls.economizerLocked = locked;
  }

  stick(valve: ValveName, amount: number): void {
    (valve === 'tank_valve' ? this.whole.tankValve : this.whole.condenserValve).stick = amount;
  }

  detune(valve: ValveName, amount: number): void {
    this.controls.levels.detune(valve, amount);
  }

  halt(asked: boolean): void {
    this.controls.stopAsked = asked;
  }

  holdLoad(part: number | null): void {
    this.world.heldLoad = part;
  }

  foul(part: number): void {
    this.whole.ills.fouling = part;
  }

  undercharge(part: number): void {
    this.whole.ills.undercharge = part;
  }

  admitAir(pressure: number): void {
    const { condenser, filling, levelSetpoints } = this.whole.parameters;
    const volume = condenser.volume - levelSetpoints.condenser * condenser.sumpCapacity;
    this.whole.ills.air = Ills.airMass(pressure, volume, filling.condenser);
  }

  carryOver(part: number): void {
    this.whole.ills.carryOver = part;
  }

  abstract wearEconomizer(part: number): void;
}

function balancesOf(circuit: Circuit): Balances {
  const { account } = circuit;
  return {
    refrigerantMass: () => circuit.refrigerantMass,
    refrigerantAdded: () => account.chargedMass,
    storedEnergy: () => circuit.storedEnergy,
    netEnergyIn: () =>
      account.chilledWater -
      account.condenserWater +
      account.electric -
      account.roomLoss +
      account.ambient +
      account.charged,
    throughput: () =>
      Math.abs(account.chilledWater) +
      Math.abs(account.condenserWater) +
      account.electric +
      account.roomLoss +
      Math.abs(account.ambient) +
      Math.abs(account.charged),
  };
}

/** What a sensor says, SI of its kind: degC to K, % to parts. */
export function seen(sensors: ReadonlyMap<string, Sensor>, name: string): number {
  return sensors.get(name)?.readingSi ?? 0;
}
