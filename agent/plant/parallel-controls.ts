/** The controllers of a `parallel` machine. They act on what their sensors say, once a second, like the real ones. */
import { CapacityControl } from './capacity.ts';
import { Controller, type ControllerOptions } from './control.ts';
import { LevelControls, type LevelParameters } from './level-controls.ts';
import type { ParallelCircuit } from './parallel.ts';
import { Sequence } from './sequence.ts';
import { Staging, type StagingParameters } from './staging.ts';

export interface ControlParameters extends LevelParameters {
  /** K. */
  readonly leavingChilledSetpoint: number;
  /** Part of design suction flow per K. */
  readonly capacity: ControllerOptions;
  /** Part of the economizer compressor's design flow per K of tank saturation temperature. */
  readonly tankPressure: ControllerOptions;
  /** Where the tank's saturation temperature is held between evaporator (0) and condenser (1). */
  readonly tankShare: number;
  readonly staging: StagingParameters;
}

/** What the controllers see: K, parts, as their sensors tell. */
export interface ControlInputs {
  leavingChilled: number;
  condenserLevel: number;
  tankLevel: number;
  tankTemperature: number;
}

export class ParallelControls {
  /** Set by a fault: the economizer compressor is held off. */
  economizerLocked = false;
  /** Set from outside: the machine is to stand. */
  stopAsked = false;
  readonly sequence = new Sequence();
  readonly levels: LevelControls;
  private readonly circuit: ParallelCircuit;
  private readonly parameters: ControlParameters;
  private readonly capacity: CapacityControl;
  private readonly staging: Staging;
  private readonly tankPressure: Controller;
  private readonly aim = { speed: 1, vanes: 1 };

  constructor(circuit: ParallelCircuit, parameters: ControlParameters, ratedCapacity: number) {
    this.circuit = circuit;
    this.parameters = parameters;
    this.capacity = new CapacityControl(parameters.capacity);
    this.levels = new LevelControls(circuit, parameters);
    this.staging = new Staging(circuit, parameters.staging, ratedCapacity);
    this.tankPressure = new Controller(0.8, parameters.tankPressure);
  }

  step(dt: number, inputs: ControlInputs): void {
    const { circuit, parameters, sequence, aim } = this;
    const above = inputs.leavingChilled - parameters.leavingChilledSetpoint;
    sequence.step(dt, !this.stopAsked, above);
    const { turning, unloading } = sequence;
    if (turning) circuit.main.start();
    else circuit.main.stop();
    const holding = turning && !unloading;
    const flow = holding ? this.capacity.step(dt, above, circuit.evaporator.saturation.T) : this.capacity.least();
    circuit.main.aim(flow, aim);
    circuit.mainSpeed.command = turning ? aim.speed : 0;
    circuit.mainVanes.command = turning ? aim.vanes : 0;
    this.levels.step(dt, inputs, turning);
    this.stage(dt, holding);
    this.holdTank(dt, inputs.tankTemperature);
  }

  private stage(dt: number, holding: boolean): void {
    const { economizer } = this.circuit;
    const wanted = this.staging.step(dt, { on: economizer.running, allowed: holding && !this.economizerLocked });
    if (wanted && !economizer.running) {
      economizer.start();
      this.tankPressure.reset(0.4);
    }
    if (!wanted && economizer.running) economizer.stop();
  }

  private holdTank(dt: number, tankTemperature: number): void {
    const { circuit, parameters, aim } = this;
    if (!circuit.economizer.running) {
      circuit.economizerSpeed.command = 0;
      circuit.economizerVanes.command = 0;
      return;
    }
    const low = circuit.evaporator.saturation.T;
    const wanted = low + parameters.tankShare * (circuit.condenser.saturation.T - low);
    const flow = this.tankPressure.step(dt, tankTemperature - wanted);
    circuit.economizer.aim(flow, aim);
    circuit.economizerSpeed.command = aim.speed;
    circuit.economizerVanes.command = aim.vanes;
  }
}
