/** Capacity control: leaving chilled water held by flow, without freezing or a hasty start. */
import { Controller, type ControllerOptions } from './control.ts';

/** K: lowest saturation temperature in the evaporator that it loads down to. */
const COLDEST = 275.4;

export class CapacityControl {
  private readonly flow: Controller;
  private readonly low: number;

  constructor(options: ControllerOptions) {
    this.flow = new Controller(0.8, options);
    this.low = options.low;
  }

  /** Part of design flow. `above`: K of leaving water over its set point; `evaporator`: K of saturation there. */
  step(dt: number, above: number, evaporator: number): number {
    return this.flow.step(dt, Math.min(above, evaporator - COLDEST));
  }

  /** Unloads; where it starts from next time. */
  least(): number {
    this.flow.reset(this.low);
    return this.low;
  }
}
