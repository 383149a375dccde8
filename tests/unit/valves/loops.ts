/**
 * Synthetic level loops with a known answer, made by nothing of what they test. Levels and strokes are parts of 1, one
 * sample every 2 s. Each class draws its periods, sizes and noise from its own stream of a seed.
 */

export interface Made {
  readonly times: Float64Array;
  readonly level: Float64Array;
  readonly command: Float64Array;
  readonly position: Float64Array;
  readonly setpoint: Float64Array;
  /** The valve that feeds the vessel, and the vessel's pressure, where the class has them. */
  readonly inflow: Float64Array | null;
  readonly pressure: Float64Array | null;
  readonly outside: Float64Array | null;
  /** Amplitude (as of a sine of the same power) of the true level's swing, and noise of the reading. */
  readonly amplitude: number;
  readonly noise: number;
}

export type Draw = () => number;

/** Mulberry32: 32 bits of state, uniform in [0, 1). From memory. */
export function uniform(seed: number): Draw {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Standard normal by Box and Muller. */
export function normal(draw: Draw): number {
  return Math.sqrt(-2 * Math.log(1 - draw())) * Math.cos(2 * Math.PI * draw());
}

export const STEP = 2;
const START = Date.UTC(2026, 6, 1);

export function between(draw: Draw, low: number, high: number): number {
  return low + (high - low) * draw();
}

/** Log-uniform. */
export function spanning(draw: Draw, low: number, high: number): number {
  return low * (high / low) ** draw();
}

/** Valve with static friction, two parameters: band and jump (after Choudhury 2005 and Kano 2004, from memory). */
export class StickingValve {
  position: number;
  private held: number;
  private direction = 0;
  private standing = true;
  private last: number;
  private readonly band: number;
  private readonly jump: number;

  constructor(start: number, band: number, jump: number) {
    this.position = start;
    this.held = start;
    this.last = start;
    this.band = band;
    this.jump = jump;
  }

  step(command: number): number {
    const move = Math.sign(command - this.last);
    if (!this.standing && move !== this.direction) {
      this.standing = true;
      this.held = this.last;
    }
    this.last = command;
    if (this.standing) {
      const way = Math.sign(command - this.held);
      const same = way === this.direction;
      if (Math.abs(command - this.held) > (same ? this.jump : this.band)) {
        this.standing = false;
        this.direction = way;
      } else return this.position;
    }
    this.position = command - (this.direction * (this.band - this.jump)) / 2;
    return this.position;
  }
}

export interface LoopOptions {
  readonly hours: number;
  /** Level per second and part of stroke: the vessel integrates. */
  readonly rate: number;
  readonly gain: number;
  readonly integral: number;
  /** Seconds between command and flow. */
  readonly delay: number;
  readonly valve: (command: number, second: number) => number;
  /** Flow by the valve's place, as a part of full; default the place itself. */
  readonly flow?: (place: number) => number;
  /** Part of stroke that balances the inflow. */
  readonly load: (second: number) => number;
  readonly setpoint?: (second: number) => number;
  /** Added to the level as it is seen and controlled (swell). */
  readonly swell?: (second: number) => number;
  readonly noise: number;
  /** The measured value is rounded to this. */
  readonly resolution?: number;
  readonly warmUp?: number;
  readonly limits?: readonly [number, number];
}

type Bare = Omit<Made, 'inflow' | 'pressure' | 'outside'>;

/** An integrating vessel under a PI controller on a filtered measurement, second by second. */
export function simulate(options: LoopOptions, draw: Draw): Bare {
  const { rate, gain, integral, delay, valve, load, noise, resolution = 0, limits = [0, 1] } = options;
  const setpoint = options.setpoint ?? (() => 0.5);
  const swell = options.swell ?? (() => 0);
  const flow = options.flow ?? ((place: number) => place);
  const warmUp = options.warmUp ?? 3600;
  const total = Math.round(options.hours * 3600);
  const n = Math.floor(total / STEP);
  const columns = [0, 1, 2, 3, 4].map(() => new Float64Array(n));
  const [times, level, command, position, set] = columns as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  const truth = new Float64Array(n);
  let [content, sum, filtered] = [setpoint(-warmUp), load(-warmUp), 0];
  const waiting: number[] = Array.from({ length: Math.max(1, Math.round(delay)) }, () => sum);
  for (let second = -warmUp; second < total; second++) {
    const seen = content + swell(second) + noise * normal(draw);
    const reading = resolution > 0 ? Math.round(seen / resolution) * resolution : seen;
    filtered += (reading - setpoint(second) - filtered) * (1 - Math.exp(-1 / 6));
    sum = Math.min(limits[1], Math.max(limits[0], sum + (gain / integral) * filtered));
    const output = Math.min(limits[1], Math.max(limits[0], sum + gain * filtered));
    waiting.push(output);
    const place = valve(waiting.shift() as number, second);
    content = Math.min(1, Math.max(0, content + rate * (load(second) - flow(place))));
    if (second < 0 || second % STEP !== 0) continue;
    const i = second / STEP;
    if (i >= n) break;
    times[i] = START + 1000 * second;
    level[i] = reading;
    truth[i] = content + swell(second);
    command[i] = output;
    position[i] = place;
    set[i] = setpoint(second);
  }
  return { times, level, command, position, setpoint: set, amplitude: amplitudeOf(truth), noise };
}

/** Root 2 times the standard deviation about a slow mean of ten minutes. */
function amplitudeOf(truth: Float64Array): number {
  const width = 600 / STEP;
  let [sum, count] = [0, 0];
  for (let i = width; i + width < truth.length; i += 3) {
    const part = truth.subarray(i - width, i + width);
    const mean = part.reduce((total, value) => total + value, 0) / part.length;
    sum += ((truth[i] as number) - mean) ** 2;
    count++;
  }
  return Math.sqrt((2 * sum) / Math.max(1, count));
}

/** First-order follower: a valve that moves freely at a pace. */
export function freeValve(lag: number, start: number): (command: number) => number {
  let place = start;
  return (command) => {
    place += (command - place) * (1 - Math.exp(-1 / lag));
    return place;
  };
}
