/** Classes of synthetic loops: what hunts and what does not, with the cause that must be named. */
import type { Cause } from '../../../agent/valves/types.ts';
import {
  between,
  type Draw,
  freeValve,
  type Made,
  normal,
  STEP,
  StickingValve,
  simulate,
  spanning,
  uniform,
} from './loops.ts';
import { BARE, drift, HOURS, limitCycle, N, sine } from './written.ts';

export interface LoopClass {
  readonly name: string;
  readonly hunts: boolean;
  /** Causes that are right; empty where none is asked for. */
  readonly causes: readonly Cause[];
  readonly make: (draw: Draw) => Made;
}

/** Free of friction the same loop would be quiet: well tuned with margin. */
function quietLoop(draw: Draw) {
  const rate = spanning(draw, 0.01, 0.04);
  const speed = spanning(draw, 25, 60);
  // Time constant of the closed loop `speed`: gain 1 / (rate x speed), integral four of them and more.
  const gain = 1 / (rate * speed);
  return { hours: HOURS, rate, gain: Math.min(gain, 3), integral: between(draw, 5, 9) * speed, delay: 1 };
}

function sticking(draw: Draw): Made {
  for (;;) {
    const base = quietLoop(draw);
    const band = spanning(draw, 0.015, 0.08);
    const valve = new StickingValve(0.4, band, band * between(draw, 0.3, 1));
    const slow = drift(draw, 0.02);
    const seed = Math.floor(draw() * 2 ** 32);
    const run = (noise: number, stem: StickingValve) =>
      simulate({ ...base, load: (t) => 0.4 + slow(t), valve: (c) => stem.step(c), noise }, uniform(seed));
    const clean = run(0, valve);
    const noise = clean.amplitude / spanning(draw, 2, 20);
    const made = run(noise, new StickingValve(0.4, band, band * between(draw, 0.3, 1)));
    if (made.amplitude < 2 * noise || made.amplitude < 0.013 || !cycles(made)) continue;
    return { ...made, ...BARE };
  }
}

/** At least eleven whole swings of the true command, so that the class says what it is. */
function cycles({ command, level }: Pick<Made, 'command' | 'level'>): boolean {
  const mean = level.reduce((sum, value) => sum + value, 0) / level.length;
  let [count, side] = [0, 0];
  const swing = (Math.max(...command) - Math.min(...command)) / 8;
  const middle = command.reduce((sum, value) => sum + value, 0) / command.length;
  for (const value of command) {
    const now = value > middle + swing ? 1 : value < middle - swing ? -1 : side;
    if (now !== side && side !== 0) count++;
    side = now;
  }
  return Number.isFinite(mean) && count >= 24;
}

/** Too much gain for the delay: it swings until the valve's flattening characteristic holds it. */
function tuning(draw: Draw, noisy = true): Made {
  for (;;) {
    const rate = spanning(draw, 0.015, 0.05);
    const delay = between(draw, 3, 20);
    const lag = delay + 6;
    // Ultimate gain of an integrator with delay: pi / (2 rate delay); the filter of 6 s adds to the delay.
    const gain = (Math.PI / (2 * rate * lag)) * between(draw, 1.1, 1.6);
    const integral = between(draw, 5, 10) * lag;
    const width = spanning(draw, 0.06, 0.2);
    const slow = drift(draw, 0.02);
    const seed = Math.floor(draw() * 2 ** 32);
    const base = { hours: HOURS, rate, gain, integral, delay, flow: (place: number) => flat(place, width) };
    const load = (t: number): number => 0.4 + slow(t) + (t > -3400 && t < -3380 ? 0.05 : 0);
    const run = (noise: number) => simulate({ ...base, load, valve: freeValve(1, 0.4), noise }, uniform(seed));
    const clean = run(0);
    const noise = noisy ? clean.amplitude / spanning(draw, 2, 20) : 0;
    const made = run(noise);
    const limited = made.command.some((value) => value <= 0.03 || value >= 0.97);
    if (limited || made.amplitude < 2 * noise || made.amplitude < 0.013 || !cycles(made)) continue;
    return { ...made, ...BARE };
  }
}

function flat(place: number, width: number): number {
  return 0.4 + width * Math.tanh((place - 0.4) / width);
}

/** The tank, quiet by itself, follows the condenser valve's swing. */
function driven(draw: Draw): Made {
  for (;;) {
    const feed = draw() < 0.5 ? tuning(draw, false) : sticking(draw);
    const base = quietLoop(draw);
    const share = between(draw, 0.7, 1);
    const middle = feed.position.reduce((sum, value) => sum + value, 0) / N;
    const load = (t: number): number =>
      0.4 + share * ((feed.position[Math.min(N - 1, Math.max(0, Math.floor(t / STEP)))] as number) - middle);
    const seed = Math.floor(draw() * 2 ** 32);
    const run = (noise: number) =>
      simulate({ ...base, load, valve: freeValve(2, 0.4), noise, warmUp: 600 }, uniform(seed));
    const clean = run(0);
    const noise = clean.amplitude / spanning(draw, 2, 15);
    const made = run(noise);
    if (made.amplitude < 2 * noise || made.amplitude < 0.013) continue;
    return { ...made, ...BARE, inflow: feed.position };
  }
}

/** A positioner of coarse steps: it goes to the nearest one, once its command is past the middle by a little. */
function coarse(draw: Draw): Made {
  for (;;) {
    const base = quietLoop(draw);
    const step = spanning(draw, 0.04, 0.12);
    const seed = Math.floor(draw() * 2 ** 32);
    const off = between(draw, 0.3, 0.7);
    const load = (Math.round(0.4 / step) + off) * step;
    const past = between(draw, 0.55, 0.75) * step;
    const run = (noise: number) => {
      let place = Math.round(0.4 / step) * step;
      const valve = (c: number): number => {
        if (Math.abs(c - place) > past) place = Math.round(c / step) * step;
        return place;
      };
      return simulate({ ...base, load: () => load, valve, noise }, uniform(seed));
    };
    const clean = run(0);
    const noise = clean.amplitude / spanning(draw, 2, 15);
    const made = run(noise);
    if (made.amplitude < 2 * noise || made.amplitude < 0.013 || !cycles(made)) continue;
    return { ...made, ...BARE };
  }
}

/** The vessel's pressure swings and the liquid swells against it; inflow and valve hardly take part. */
function pressureSwing(draw: Draw): Made {
  const period = spanning(draw, 40, 400);
  const amplitude = spanning(draw, 0.015, 0.06);
  const noise = amplitude / spanning(draw, 2, 15);
  const base = { ...quietLoop(draw), gain: 0.4 };
  const phase = between(draw, 0, 6.3);
  const wave = (t: number): number => Math.sin((2 * Math.PI * t) / period + phase);
  const made = simulate(
    { ...base, load: () => 0.4, valve: freeValve(2, 0.4), swell: (t) => amplitude * wave(t), noise },
    draw,
  );
  const pressure = Float64Array.from(made.times, (_, i) => 6e5 - 8e3 * wave(i * STEP) + 300 * normal(draw));
  return { ...made, ...BARE, pressure };
}

const seconds = (draw: Draw, low: number, high: number): number => Math.round(between(draw, low, high));

/** A quiet loop under what a day does to it. */
function quiet(load: (draw: Draw) => (t: number) => number, setpoint?: (draw: Draw) => (t: number) => number) {
  return (draw: Draw): Made => {
    const base = quietLoop(draw);
    const made = simulate(
      {
        ...base,
        load: load(draw),
        ...(setpoint === undefined ? {} : { setpoint: setpoint(draw) }),
        valve: freeValve(2, 0.4),
        noise: spanning(draw, 0.002, 0.02),
      },
      draw,
    );
    return { ...made, ...BARE };
  };
}

/** Filtered noise as load: the loop answers at its own pace, without being regular. */
function restless(draw: Draw): (t: number) => number {
  const [lag, size] = [spanning(draw, 10, 200), spanning(draw, 0.01, 0.06)];
  const pull = 1 - Math.exp(-1 / lag);
  let value = 0;
  return () => {
    value += pull * (-value + normal(draw) * Math.sqrt(2 / pull) * size);
    return 0.4 + value;
  };
}

export const CLASSES: readonly LoopClass[] = [
  { name: 'sine', hunts: true, causes: [], make: sine },
  { name: 'limit cycle', hunts: true, causes: [], make: limitCycle },
  { name: 'sticking', hunts: true, causes: ['friction or backlash'], make: sticking },
  { name: 'tuning', hunts: true, causes: ['tuning'], make: tuning },
  { name: 'driven', hunts: true, causes: ['driven'], make: driven },
  { name: 'coarse', hunts: true, causes: ['coarse actuator or signal'], make: coarse },
  { name: 'pressure swing', hunts: true, causes: ['tank pressure swing'], make: pressureSwing },
  { name: 'noise', hunts: false, causes: [], make: quiet(() => () => 0.4) },
  { name: 'restless load', hunts: false, causes: [], make: quiet(restless) },
  {
    name: 'load steps',
    hunts: false,
    causes: [],
    make: quiet((draw) => {
      const steps = Array.from({ length: 8 }, () => [seconds(draw, 0, 7200), between(draw, -0.12, 0.12)] as const);
      return (t) => steps.reduce((sum, [at, size]) => sum + (t >= at ? size : 0), 0.4);
    }),
  },
  {
    name: 'load ramps',
    hunts: false,
    causes: [],
    make: quiet((draw) => {
      const turns = Array.from({ length: 5 }, () => [seconds(draw, 0, 7200), between(draw, -0.3, 0.3)] as const);
      return (t) =>
        Math.max(
          0.1,
          turns.reduce((sum, [at, slope]) => sum + (Math.max(0, t - at) * slope) / 7200, 0.4),
        );
    }),
  },
  {
    name: 'set point steps',
    hunts: false,
    causes: [],
    make: quiet(
      () => () => 0.4,
      (draw) => {
        const steps = Array.from({ length: 3 }, () => [seconds(draw, 0, 7200), between(draw, -0.1, 0.1)] as const);
        return (t) => steps.reduce((sum, [at, size]) => sum + (t >= at ? size : 0), 0.5);
      },
    ),
  },
  {
    name: 'moving set point',
    hunts: false,
    causes: [],
    make: quiet(
      () => () => 0.4,
      (draw) => {
        const [period, size] = [spanning(draw, 200, 600), between(draw, 0.03, 0.08)];
        return (t) => 0.5 + size * Math.sin((2 * Math.PI * t) / period);
      },
    ),
  },
  {
    name: 'start-up',
    hunts: false,
    causes: [],
    make: quiet((draw) => {
      const [at, length, over] = [seconds(draw, 0, 3600), spanning(draw, 120, 900), between(draw, 0.1, 0.4)];
      return (t) => (t < at ? 0.1 : 0.1 + 0.3 * (1 - Math.exp(-(t - at) / length)) + over * Math.exp(-(t - at) / 200));
    }),
  },
];
