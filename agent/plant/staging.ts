/** When a machine runs its economizer: enough load and enough lift, and not to and fro. */
import type { Circuit } from './circuit.ts';

/** Parts of rated capacity; K of lift; s between changes. */
export interface StagingParameters {
  readonly loadOn: number;
  readonly loadOff: number;
  readonly liftOn: number;
  readonly liftOff: number;
  readonly leastTime: number;
}

export class Staging {
  private readonly circuit: Circuit;
  private readonly parameters: StagingParameters;
  private readonly ratedCapacity: number;
  private sinceChange = 0;

  constructor(circuit: Circuit, parameters: StagingParameters, ratedCapacity: number) {
    this.circuit = circuit;
    this.parameters = parameters;
    this.ratedCapacity = ratedCapacity;
  }

  /** Whether it is to be on now. */
  step(dt: number, state: { readonly on: boolean; readonly allowed: boolean }): boolean {
    const { circuit } = this;
    const { loadOn, loadOff, liftOn, liftOff, leastTime } = this.parameters;
    const load = circuit.evaporatorHeat / this.ratedCapacity;
    const lift = circuit.condenser.saturation.T - circuit.evaporator.saturation.T;
    this.sinceChange += dt;
    const free = this.sinceChange >= leastTime;
    const { on, allowed } = state;
    const wanted =
      allowed && (on ? !(free && (load < loadOff || lift < liftOff)) : free && load > loadOn && lift > liftOn);
    if (wanted !== on) this.sinceChange = 0;
    return wanted;
  }
}
