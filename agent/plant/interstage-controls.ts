/** The controllers of an `interstage` machine: they act on what their sensors say, once a second. */
import { CapacityControl } from './capacity.ts';
import type { ControllerOptions } from './control.ts';
import type { InterstageCircuit } from './interstage.ts';
import { LevelControls, type LevelParameters } from './level-controls.ts';
import { Sequence } from './sequence.ts';
import { Staging, type StagingParameters } from './staging.ts';

export interface InterstageControlParameters extends LevelParameters {
  /** K. */
  readonly leavingChilledSetpoint: number;
  /** Part of design suction flow per K. */
  readonly capacity: ControllerOptions;
  readonly staging: StagingParameters;
}

/** What the controllers see: K, parts, as their sensors tell. */
export interface InterstageInputs {
  leavingChilled: number;
  condenserLevel: number;
  tankLevel: number;
}

export class InterstageControls {
  /** Set by a fault: the vapour line is held shut. */
  economizerLocked = false;
  /** Set from outside: the machine is to stand. */
  stopAsked = false;
  /** Whether the vapour line's valve is told to be open. */
  economizing = true;
  readonly sequence = new Sequence();
  readonly levels: LevelControls;
  private readonly circuit: InterstageCircuit;
  private readonly setpoint: number;
  private readonly capacity: CapacityControl;
  private readonly staging: Staging;
  private readonly aim = { speed: 1, vanes: 1 };

  constructor(circuit: InterstageCircuit, parameters: InterstageControlParameters, ratedCapacity: number) {
    this.circuit = circuit;
    this.setpoint = parameters.leavingChilledSetpoint;
    this.capacity = new CapacityControl(parameters.capacity);
    this.levels = new LevelControls(circuit, parameters);
    this.staging = new Staging(circuit, parameters.staging, ratedCapacity);
  }

  step(dt: number, inputs: InterstageInputs): void {
    const { circuit, sequence, aim } = this;
    const above = inputs.leavingChilled - this.setpoint;
    sequence.step(dt, !this.stopAsked, above);
    const { turning, unloading } = sequence;
    if (turning) circuit.start();
    else circuit.stop();
    const holding = turning && !unloading;
    const flow = holding ? this.capacity.step(dt, above, circuit.evaporator.saturation.T) : this.capacity.least();
    circuit.aim(flow, aim);
    circuit.speed.command = turning ? aim.speed : 0;
    circuit.vanes.command = turning ? aim.vanes : 0;
    this.levels.step(dt, inputs, turning);
    this.economizing = this.staging.step(dt, {
      on: this.economizing,
      allowed: holding && !this.economizerLocked,
    });
    circuit.vapourValve.command = this.economizing ? 1 : 0;
  }
}
