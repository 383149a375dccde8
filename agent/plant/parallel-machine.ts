/** A `parallel` machine whole: circuit, controllers, and the world around it. */
import { ParallelCircuit } from './parallel.ts';
import { type ControlParameters, ParallelControls } from './parallel-controls.ts';
import type { ParallelParameters } from './parallel-parameters.ts';
import { ParallelTruth } from './parallel-truth.ts';
import { circuitReadings, type Readings } from './readings.ts';
import type { Sensor } from './sensor.ts';
import { type MachineParts, seen, WholeMachine } from './whole-machine.ts';

export interface ParallelMachineParameters extends MachineParts {
  readonly machine: ParallelParameters;
  readonly controls: ControlParameters;
  readonly history: {
    readonly starts: number;
    readonly economizerStarts: number;
    readonly runHours: number;
    readonly economizerRunHours: number;
  };
}

export class ParallelMachine extends WholeMachine {
  readonly readings: Readings;
  readonly circuit: ParallelCircuit;
  protected readonly controls: ParallelControls;
  protected readonly truth: ParallelTruth;
  private readonly inputs = { leavingChilled: 280, condenserLevel: 0.5, tankLevel: 0.45, tankTemperature: 293 };

  constructor(parameters: ParallelMachineParameters, seed: number) {
    const circuit = new ParallelCircuit(parameters.machine);
    super(parameters, circuit, seed);
    this.circuit = circuit;
    this.controls = new ParallelControls(circuit, parameters.controls, this.ratedCapacity);
    this.truth = new ParallelTruth(circuit, this.ratedCapacity);
    const { main, economizer } = circuit;
    main.starts = parameters.history.starts;
    main.runTime = parameters.history.runHours * 3600;
    economizer.starts = parameters.history.economizerStarts;
    economizer.runTime = parameters.history.economizerRunHours * 3600;
    this.readings = {
      ...circuitReadings(circuit, this.world, this.controls.sequence, main),
      ...compressorReadings('main_compressor', circuit),
      ...compressorReadings('economizer_compressor', circuit),
    };
  }

  protected control(sensors: ReadonlyMap<string, Sensor>): void {
    const { inputs } = this;
    inputs.leavingChilled = seen(sensors, 'chilled_water.leaving_temperature');
    inputs.condenserLevel = seen(sensors, 'condenser.level');
    inputs.tankLevel = seen(sensors, 'flash_tank.level');
    inputs.tankTemperature = seen(sensors, 'flash_tank.temperature');
    this.controls.step(1, inputs);
  }

  wearEconomizer(part: number): void {
    this.circuit.economizer.wear = part;
  }
}

function compressorReadings(name: string, circuit: ParallelCircuit): Readings {
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
