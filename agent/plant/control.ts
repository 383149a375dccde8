/** Actuators and controllers as field equipment has them: travel rate, finite resolution, dead band, friction. */

export interface ActuatorOptions {
  /** Travel per second, part of full stroke. */
  readonly rate: number;
  /** Smallest step of the positioner, part of full stroke. */
  readonly resolution: number;
  /** A command nearer than this to the place where it stands moves nothing. */
  readonly deadBand: number;
}

export class Actuator {
  command: number;
  position: number;
  /** Part of full stroke that friction holds it back by; 0: moves freely. */
  stick = 0;
  private target: number;
  private readonly options: ActuatorOptions;

  constructor(start: number, options: ActuatorOptions) {
    this.command = start;
    this.position = start;
    this.target = start;
    this.options = options;
  }

  step(dt: number): void {
    const { rate, resolution, deadBand } = this.options;
    // Static friction: nothing moves until the command has left the stem by the whole stick band; then it jumps free
    // and follows.
    const hold = Math.max(deadBand, this.stick);
    if (Math.abs(this.command - this.target) >= hold) this.target = Math.round(this.command / resolution) * resolution;
    const away = this.target - this.position;
    const most = rate * dt;
    this.position += Math.min(most, Math.max(-most, away));
  }
}

export interface ControllerOptions {
  /** Output per unit of error; negative for reverse action. */
  readonly gain: number;
  /** Integral time, s. */
  readonly integralTime: number;
  readonly low: number;
  readonly high: number;
  /** Errors smaller than this do not integrate: keeps a coarse actuator from hunting. */
  readonly quiet: number;
}

/** Proportional and integral, output held within its limits without wind-up. */
export class Controller {
  readonly options: ControllerOptions;
  /** By how much of itself the gain is too high and the integral time too short; 0: as it should be. */
  detune = 0;
  output: number;
  private integral: number;

  constructor(start: number, options: ControllerOptions) {
    this.options = options;
    this.output = start;
    this.integral = start;
  }

  step(dt: number, error: number): number {
    const { low, high, quiet } = this.options;
    const gain = this.options.gain * (1 + this.detune);
    const integralTime = this.options.integralTime / (1 + this.detune);
    const counted = Math.abs(error) < quiet ? 0 : error;
    const next = this.integral + (gain * counted * dt) / integralTime;
    const free = next + gain * error;
    this.output = Math.min(high, Math.max(low, free));
    if (free === this.output || Math.abs(next - this.output) < Math.abs(this.integral - this.output))
      this.integral = next;
    return this.output;
  }

  reset(output: number): void {
    this.integral = output;
    this.output = output;
  }
}

/** Pa: near no difference the flow goes to 0 in proportion to it, not with an endless slope. */
const CREEP = 100;

/** Flow through an orifice, kg/s: opening x area x sqrt(2 rho dp); nothing flows backwards. */
export function valveFlow(opening: number, area: number, rho: number, dp: number): number {
  return dp > 0 ? opening * area * dp * Math.sqrt((2 * rho) / (dp + CREEP)) : 0;
}
