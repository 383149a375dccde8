/** The controllers of a `parallel` machine. They act on what their sensors say, once a second, like the real ones. */
import { Controller, type ControllerOptions } from './control.ts';
import type { ParallelCircuit } from './parallel.ts';

export interface ControlParameters {
  /** K. */
  readonly leavingChilledSetpoint: number;
  /** Part of design suction flow per K. */
  readonly capacity: ControllerOptions;
  /** Valve opening per part of level. */
  readonly condenserLevel: ControllerOptions;
  readonly tankLevel: ControllerOptions;
  /** Filter on the level signals, s: keeps their noise out of the valves. */
  readonly levelFilter: number;
  /** Part of the economizer compressor's design flow per K of tank saturation temperature. */
  readonly tankPressure: ControllerOptions;
  /** Where the tank's saturation temperature is held between evaporator (0) and condenser (1). */
  readonly tankShare: number;
  /** Parts of rated capacity; K of lift; s between changes. */
  readonly staging: {
    readonly loadOn: number;
    readonly loadOff: number;
    readonly liftOn: number;
    readonly liftOff: number;
    readonly leastTime: number;
  };
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
  private readonly circuit: ParallelCircuit;
  private readonly parameters: ControlParameters;
  private readonly ratedCapacity: number;
  private readonly capacity: Controller;
  private readonly condenserLevel: Controller;
  private readonly tankLevel: Controller;
  private readonly tankPressure: Controller;
  private sinceChange = 0;
  private condenserError = 0;
  private tankError = 0;
  private readonly aim = { speed: 1, vanes: 1 };

  constructor(circuit: ParallelCircuit, parameters: ControlParameters, ratedCapacity: number) {
    this.circuit = circuit;
    this.parameters = parameters;
    this.ratedCapacity = ratedCapacity;
    this.capacity = new Controller(0.8, parameters.capacity);
    this.condenserLevel = new Controller(0.45, parameters.condenserLevel);
    this.tankLevel = new Controller(0.45, parameters.tankLevel);
    this.tankPressure = new Controller(0.8, parameters.tankPressure);
  }

  step(dt: number, inputs: ControlInputs): void {
    const { circuit, parameters, aim } = this;
    const flow = this.capacity.step(dt, inputs.leavingChilled - parameters.leavingChilledSetpoint);
    circuit.main.aim(flow, aim);
    circuit.mainSpeed.command = aim.speed;
    circuit.mainVanes.command = aim.vanes;
    const setpoints = circuit.parameters.levelSetpoints;
    const pass = 1 - Math.exp(-dt / parameters.levelFilter);
    this.condenserError += pass * (inputs.condenserLevel - setpoints.condenser - this.condenserError);
    this.tankError += pass * (inputs.tankLevel - setpoints.tank - this.tankError);
    circuit.condenserValve.command = this.condenserLevel.step(dt, this.condenserError);
    circuit.tankValve.command = this.tankLevel.step(dt, this.tankError);
    this.stage(dt);
    this.holdTank(dt, inputs.tankTemperature);
  }

  private stage(dt: number): void {
    const { circuit, parameters } = this;
    const { loadOn, loadOff, liftOn, liftOff, leastTime } = parameters.staging;
    const load = circuit.evaporatorHeat / this.ratedCapacity;
    const lift = circuit.condenser.saturation.T - circuit.evaporator.saturation.T;
    this.sinceChange += dt;
    const { economizer } = circuit;
    if (economizer.running) {
      const enough = this.sinceChange >= leastTime && (load < loadOff || lift < liftOff);
      if (this.economizerLocked || enough) {
        economizer.stop();
        this.sinceChange = 0;
      }
    } else if (!this.economizerLocked && this.sinceChange >= leastTime && load > loadOn && lift > liftOn) {
      economizer.start();
      this.tankPressure.reset(0.4);
      this.sinceChange = 0;
    }
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
