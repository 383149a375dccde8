/** Synthetic loops whose level is written down directly, and what the simulated ones share with them. */
import { between, type Draw, type Made, normal, STEP, spanning } from './loops.ts';

export const HOURS = 2;
const START = Date.UTC(2026, 6, 1);
export const N = (HOURS * 3600) / STEP;

/** A loop whose level is written down directly; the command mirrors it. */
function written(of: (second: number) => number, noise: number, amplitude: number, draw: Draw): Made {
  const times = new Float64Array(N);
  const level = new Float64Array(N);
  const command = new Float64Array(N);
  for (let i = 0; i < N; i++) {
    const second = i * STEP;
    times[i] = START + 1000 * second;
    level[i] = 0.5 + of(second) + noise * normal(draw);
    command[i] = 0.4 + 0.8 * of(second - 4);
  }
  const setpoint = new Float64Array(N).fill(0.5);
  return {
    times,
    level,
    command,
    position: command.slice(),
    setpoint,
    inflow: null,
    pressure: null,
    outside: null,
    amplitude,
    noise,
  };
}

export const BARE = { inflow: null, pressure: null, outside: null };

/** Slow change of load: a line and a slow sine. */
export function drift(draw: Draw, size: number): (second: number) => number {
  const [slope, swing, phase] = [between(draw, -size, size), between(draw, 0, size), between(draw, 0, 6.3)];
  return (second) => (slope * second) / 7200 + swing * Math.sin((2 * Math.PI * second) / 9000 + phase);
}

export function sine(draw: Draw): Made {
  const [period, amplitude, phase] = [spanning(draw, 20, 600), spanning(draw, 0.013, 0.1), between(draw, 0, 6.3)];
  const slow = drift(draw, 0.05);
  const noise = amplitude / spanning(draw, 2, 20);
  return written((t) => amplitude * Math.sin((2 * Math.PI * t) / period + phase) + slow(t), noise, amplitude, draw);
}

/** On-off action with hysteresis and a delay on an integrating vessel: a limit cycle, not a sine. */
export function limitCycle(draw: Draw): Made {
  const period = spanning(draw, 30, 500);
  const amplitude = spanning(draw, 0.02, 0.1);
  const up = between(draw, 0.35, 0.65);
  const noise = amplitude / spanning(draw, 2, 20);
  const slow = drift(draw, 0.03);
  const wander = between(draw, 0, 0.05);
  let [at, length] = [0, period];
  const form = (t: number): number => {
    if (t < at) [at, length] = [0, period];
    while (t >= at + length) {
      at += length;
      length = period * (1 + wander * normal(draw));
    }
    const share = (t - at) / length;
    return share < up ? share / up : (1 - share) / (1 - up);
  };
  // A triangle with the power of that sine.
  const size = amplitude * Math.sqrt(1.5);
  const values = Array.from({ length: N }, (_, i) => size * (2 * form(i * STEP) - 1) + slow(i * STEP));
  return written((t) => values[Math.max(0, Math.floor(t / STEP))] as number, noise, amplitude, draw);
}
