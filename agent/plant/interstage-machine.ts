/** An `interstage` machine whole: circuit, controllers, and the world around it. */
import { InterstageCircuit } from './interstage.ts';
import { type InterstageControlParameters, InterstageControls } from './interstage-controls.ts';
import type { InterstageParameters } from './interstage-parameters.ts';
import { InterstageTruth } from './interstage-truth.ts';
import { circuitReadings, type Readings } from './readings.ts';
import type { Sensor } from './sensor.ts';
import { type MachineParts, seen, WholeMachine } from './whole-machine.ts';

export interface InterstageMachineParameters extends MachineParts {
  readonly machine: InterstageParameters;
  readonly controls: InterstageControlParameters;
  readonly history: { readonly starts: number; readonly runHours: number };
}

export class InterstageMachine extends WholeMachine {
  readonly readings: Readings;
  readonly circuit: InterstageCircuit;
  protected readonly controls: InterstageControls;
  protected readonly truth: InterstageTruth;
  private readonly inputs = { leavingChilled: 280, condenserLevel: 0.5, tankLevel: 0.45 };

  constructor(parameters: InterstageMachineParameters, seed: number) {
    const circuit = new InterstageCircuit(parameters.machine);
    super(parameters, circuit, seed);
    this.circuit = circuit;
    this.controls = new InterstageControls(circuit, parameters.controls, this.ratedCapacity);
    this.truth = new InterstageTruth(circuit, this.ratedCapacity);
    circuit.first.starts = parameters.history.starts;
    circuit.first.runTime = parameters.history.runHours * 3600;
    this.readings = {
      ...circuitReadings(circuit, this.world, this.controls.sequence, circuit.first),
      ...compressorReadings(circuit),
      'chilled_water.leaving_setpoint': () => parameters.controls.leavingChilledSetpoint,
      'economizer.running': () => (circuit.vapourValve.position > 0.5 ? 1 : 0),
    };
  }

  protected control(sensors: ReadonlyMap<string, Sensor>): void {
    const { inputs } = this;
    inputs.leavingChilled = seen(sensors, 'chilled_water.leaving_temperature');
    inputs.condenserLevel = seen(sensors, 'condenser.level');
    inputs.tankLevel = seen(sensors, 'flash_tank.level');
    this.controls.step(1, inputs);
  }

  wearEconomizer(): void {}
}

function compressorReadings(circuit: InterstageCircuit): Readings {
  const { first, second } = circuit;
  const { designSpeed, voltage } = circuit.parameters.firstStage;
  return {
    'main_compressor.suction_temperature': () => first.suctionTemperature,
    'main_compressor.discharge_temperature': () => second.dischargeTemperature,
    'main_compressor.power': () => circuit.gas.electric,
    'main_compressor.current': () => circuit.current,
    'main_compressor.voltage': () => voltage,
    'main_compressor.power_factor': () => circuit.powerFactor,
    'main_compressor.speed': () => first.speed * designSpeed,
    'main_compressor.vane_position': () => first.vanes,
    'main_compressor.running': () => (first.running ? 1 : 0),
    'main_compressor.starts': () => first.starts,
    'main_compressor.run_hours': () => Math.floor(first.runTime / 3600) * 3600,
  };
}
