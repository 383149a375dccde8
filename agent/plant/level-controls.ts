/** The two level loops of a machine with a flash tank, by what their sensors say. */
import type { Circuit } from './circuit.ts';
import { Controller, type ControllerOptions } from './control.ts';
import type { ValveName } from './machine.ts';

export interface LevelParameters {
  /** Valve opening per part of level. */
  readonly condenserLevel: ControllerOptions;
  readonly tankLevel: ControllerOptions;
  /** Filter on the level signals, s: keeps their noise out of the valves. */
  readonly levelFilter: number;
}

/** Where both valves stand while the machine does: open enough that pressures come together. */
const RESTING = 0.3;

export class LevelControls {
  private readonly circuit: Circuit;
  private readonly filter: number;
  private readonly condenser: Controller;
  private readonly tank: Controller;
  private condenserError = 0;
  private tankError = 0;

  constructor(circuit: Circuit, parameters: LevelParameters) {
    this.circuit = circuit;
    this.filter = parameters.levelFilter;
    this.condenser = new Controller(0.45, parameters.condenserLevel);
    this.tank = new Controller(0.45, parameters.tankLevel);
  }

  /** `running`: they hold their levels; else the valves rest. Levels as parts, as the sensors tell. */
  step(dt: number, inputs: { readonly condenserLevel: number; readonly tankLevel: number }, running: boolean): void {
    const { circuit } = this;
    const setpoints = circuit.parameters.levelSetpoints;
    const pass = 1 - Math.exp(-dt / this.filter);
    this.condenserError += pass * (inputs.condenserLevel - setpoints.condenser - this.condenserError);
    this.tankError += pass * (inputs.tankLevel - setpoints.tank - this.tankError);
    if (running) {
      circuit.condenserValve.command = this.condenser.step(dt, this.condenserError);
      circuit.tankValve.command = this.tank.step(dt, this.tankError);
      return;
    }
    this.condenser.reset(RESTING);
    this.tank.reset(RESTING);
    circuit.condenserValve.command = RESTING;
    circuit.tankValve.command = RESTING;
  }

  /** By how much of itself a loop's gain is too high. */
  detune(valve: ValveName, amount: number): void {
    (valve === 'condenser_valve' ? this.condenser : this.tank).detune = amount;
  }
}
