/** A `parallel` machine whole: circuit, controllers, and the world around it. */
import { WATTS_PER_TON } from '../base/units.ts';
import type { Balances, Machine, MetricValues, ValveName } from './machine.ts';
import { ParallelCircuit } from './parallel.ts';
import { type ControlParameters, ParallelControls } from './parallel-controls.ts';
import type { ParallelParameters } from './parallel-parameters.ts';
import { ParallelTruth } from './parallel-truth.ts';
import type { PlantPoint } from './point-map.ts';
import type { Sensor } from './sensor.ts';
import { World, type WorldParameters } from './world.ts';

/** Steps of the circuit per second. */
const STEPS = 4;
/** The operating mode's number for 'running under its own controls'. */
const MODE_RUNNING = 3;

export interface ParallelMachineParameters {
  readonly name: string;
  readonly machine: ParallelParameters;
  readonly controls: ControlParameters;
  readonly world: WorldParameters;
  readonly points: readonly PlantPoint[];
  readonly history: {
    readonly starts: number;
    readonly economizerStarts: number;
    readonly runHours: number;
    readonly economizerRunHours: number;
  };
}

export class ParallelMachine implements Machine {
  readonly name: string;
  readonly points: readonly PlantPoint[];
  readonly readings: Readonly<Record<string, () => number>>;
  readonly circuit: ParallelCircuit;
  readonly world: World;
  readonly balances: Balances;
  private readonly controls: ParallelControls;
  private readonly truth: ParallelTruth;
  private readonly ratedCapacity: number;
  private readonly inputs = { leavingChilled: 280, condenserLevel: 0.5, tankLevel: 0.45, tankTemperature: 293 };

  constructor(parameters: ParallelMachineParameters, seed: number) {
    this.name = parameters.name;
    this.points = parameters.points;
    this.circuit = new ParallelCircuit(parameters.machine);
    this.world = new World(parameters.world, seed);
    this.ratedCapacity = parameters.world.ratedTons * WATTS_PER_TON;
    this.controls = new ParallelControls(this.circuit, parameters.controls, this.ratedCapacity);
    this.truth = new ParallelTruth(this.circuit, this.ratedCapacity);
    const { main, economizer } = this.circuit;
    main.starts = parameters.history.starts;
    main.runTime = parameters.history.runHours * 3600;
    economizer.starts = parameters.history.economizerStarts;
    economizer.runTime = parameters.history.economizerRunHours * 3600;
    this.readings = readingsOf(this.circuit, this.world, parameters);
    this.balances = balancesOf(this.circuit);
  }

  barometer(): number {
    return this.world.barometer;
  }

  step(second: number, sensors: ReadonlyMap<string, Sensor>): void {
    const { circuit, inputs } = this;
    const rejected = circuit.condenserHeat / (1.145 * this.ratedCapacity);
    this.world.step(1, second, circuit.chilledWater.leaving, rejected);
    inputs.leavingChilled = (sensors.get('chilled_water.leaving_temperature')?.reading ?? 0) + 273.15;
    inputs.condenserLevel = (sensors.get('condenser.level')?.reading ?? 0) / 100;
    inputs.tankLevel = (sensors.get('flash_tank.level')?.reading ?? 0) / 100;
    inputs.tankTemperature = (sensors.get('flash_tank.temperature')?.reading ?? 0) + 273.15;
    this.controls.step(1, inputs);
    for (let i = 0; i < STEPS; i++) circuit.step(1 / STEPS, this.world);
  }

  metrics(out: MetricValues): void {
    this.truth.metrics(out);
  }

  lockEconomizer(locked: boolean): void {
    this.controls.economizerLocked = locked;
  }

  stick(valve: ValveName, amount: number): void {
    const actuator = valve === 'tank_valve' ? this.circuit.tankValve : this.circuit.condenserValve;
    actuator.stick = amount;
  }
}

function balancesOf(circuit: ParallelCircuit): Balances {
  const { account } = circuit;
  return {
    refrigerantMass: () => circuit.refrigerantMass,
    storedEnergy: () => circuit.storedEnergy,
    netEnergyIn: () =>
      account.chilledWater - account.condenserWater + account.electric - account.roomLoss + account.ambient,
    throughput: () =>
      Math.abs(account.chilledWater) +
      Math.abs(account.condenserWater) +
      account.electric +
      account.roomLoss +
      Math.abs(account.ambient),
  };
}

function compressorReadings(name: string, circuit: ParallelCircuit): Record<string, () => number> {
  const compressor = name === 'main_compressor' ? circuit.main : circuit.economizer;
  const { designSpeed, voltage } = compressor.parameters;
  return {
    [`${name}.suction_temperature`]: () => compressor.suctionTemperature,
    [`${name}.discharge_temperature`]: () => compressor.dischargeTemperature,
    [`${name}.power`]: () => compressor.electricPower,
    [`${name}.current`]: () => compressor.current,
    [`${name}.voltage`]: () => voltage,
    [`${name}.power_factor`]: () => compressor.powerFactor,
    [`${name}.speed`]: () => compressor.speed * designSpeed,
    [`${name}.vane_position`]: () => compressor.vanes,
    [`${name}.running`]: () => (compressor.running ? 1 : 0),
    [`${name}.starts`]: () => compressor.starts,
    [`${name}.run_hours`]: () => Math.floor(compressor.runTime / 3600) * 3600,
  };
}

function readingsOf(
  circuit: ParallelCircuit,
  world: World,
  parameters: ParallelMachineParameters,
): Record<string, () => number> {
  const { evaporator, condenser, tank, sump, chilledWater, condenserWater, condenserValve, tankValve } = circuit;
  const setpoints = parameters.machine.levelSetpoints;
  return {
    'chilled_water.entering_temperature': () => chilledWater.entering,
    'chilled_water.leaving_temperature': () => chilledWater.leaving,
    'chilled_water.flow': () => chilledWater.volumeFlow,
    'chilled_water.pressure_drop': () => chilledWater.pressureDrop,
    'condenser_water.entering_temperature': () => condenserWater.entering,
    'condenser_water.leaving_temperature': () => condenserWater.leaving,
    'condenser_water.flow': () => condenserWater.volumeFlow,
    'condenser_water.pressure_drop': () => condenserWater.pressureDrop,
    'evaporator.pressure': () => evaporator.saturation.p,
    'condenser.pressure': () => condenser.saturation.p,
    'condenser.liquid_temperature': () => sump.T,
    'condenser.level': () => circuit.condenserLevel,
    'condenser.level_setpoint': () => setpoints.condenser,
    'flash_tank.pressure': () => tank.saturation.p,
    'flash_tank.temperature': () => tank.saturation.T,
    'flash_tank.level': () => circuit.tankLevel,
    'flash_tank.level_setpoint': () => setpoints.tank,
    'condenser_valve.position': () => condenserValve.position,
    'condenser_valve.command': () => condenserValve.command,
    'tank_valve.position': () => tankValve.position,
    'tank_valve.command': () => tankValve.command,
    ...compressorReadings('main_compressor', circuit),
    ...compressorReadings('economizer_compressor', circuit),
    'unit.power': () => circuit.unitPower,
    'unit.running': () => 1,
    'unit.operating_mode': () => MODE_RUNNING,
    'outdoor.temperature': () => world.dryBulb,
    'outdoor.wet_bulb_temperature': () => world.wetBulb,
  };
}
