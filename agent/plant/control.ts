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

/** A loop that swings by itself is kept from its stops by output limits this far from its slow mean: a limit cycle. */
const DETUNED_SWING = 0.08;
/** s */
const MEAN_LAG = 300;

/** Proportional and integral, output held within its limits without wind-up. */
export class Controller {
  readonly options: ControllerOptions;
  /** By how much of itself the gain is too high, the integral time shortened by its square; 0: as it should be. */
  detune = 0;
  output: number;
  private mean: number;
  private integral: number;

  constructor(start: number, options: ControllerOptions) {
    this.options = options;
    this.output = start;
    this.mean = start;
    this.integral = start;
  }

  step(dt: number, error: number): number {
    const { quiet } = this.options;
    const gain = this.options.gain * (1 + this.detune);
    const integralTime = this.options.integralTime / (1 + this.detune) ** 2;
    this.mean += (this.output - this.mean) * (1 - Math.exp(-dt / MEAN_LAG));
    const swing = this.detune > 0 ? DETUNED_SWING : 1;
    const low = Math.max(this.options.low, this.mean - swing);
    const high = Math.min(this.options.high, this.mean + swing);
    const counted = this.detune === 0 && Math.abs(error) < quiet ? 0 : error;
    const next = this.integral + (gain * counted * dt) / integralTime;
    const free = next + gain * error;
    this.output = Math.min(high, Math.max(low, free));
    if (free === this.output || Math.abs(next - this.output) < Math.abs(this.integral - this.output))
      this.integral = next;
    return this.output;
  }

  reset(output: number): void {
    this.integral = output;
    this.mean = output;
    this.output = output;
  }
}

/** Pa: near no difference the flow goes to 0 in proportion to it, not with an endless slope. */
const CREEP = 100;

/** Flow through an orifice, kg/s: opening x area x sqrt(2 rho dp); nothing flows backwards. */
export function valveFlow(opening: number, area: number, rho: number, dp: number): number {
  return dp > 0 ? opening * area * dp * Math.sqrt((2 * rho) / (dp + CREEP)) : 0;
}
