/**
 * Both level loops of a machine, judged together once an interval over what the fast window holds. The condenser valve
 * feeds the tank, so its movements stand beside the tank's level as what may drive it.
 */
import { LIMITS } from '../base/limits.ts';
import type { Figure } from '../base/metric.ts';
import type { FastColumns } from '../points/fast-window.ts';
import type { RunningRule, RunningState } from '../points/running.ts';
import { analyseLoop, noVerdict } from './analyse.ts';
import { type LoopName, valveFigures } from './metrics.ts';
import type { Driver, LoopVerdict, LoopWindow } from './types.ts';

export interface LoopsInput {
  /** Columns of a fast point, empty where it is none; SI. */
  readonly columns: (point: string) => FastColumns;
  /** End of the interval, ms. */
  readonly now: number;
  readonly running: RunningState;
  readonly rule: RunningRule;
  /** Least amplitude of a level worth a verdict, part of its range; default `LEVEL_BAND`. */
  readonly band?: number;
}

export interface LoopsJudged {
  readonly loops: Readonly<Record<LoopName, LoopVerdict>>;
  readonly figures: Readonly<Record<string, Figure>>;
}

/** 1 % of the range of the level (Hagglund 1995, from memory). */
export const LEVEL_BAND = 0.01;

interface LoopPoints {
  readonly level: string;
  readonly setpoint: string;
  readonly valve: LoopName;
  readonly drivers: readonly Omit<Driver, 'columns'>[];
}

const LOOPS: Readonly<Record<LoopName, LoopPoints>> = {
  condenser_valve: {
    level: 'condenser.level',
    setpoint: 'condenser.level_setpoint',
    valve: 'condenser_valve',
    drivers: [
      { name: 'main_compressor.vane_position', relation: 'outside' },
      { name: 'condenser_water.entering_temperature', relation: 'outside' },
    ],
  },
  tank_valve: {
    level: 'flash_tank.level',
    setpoint: 'flash_tank.level_setpoint',
    valve: 'tank_valve',
    drivers: [
      { name: 'condenser_valve.position', relation: 'inflow' },
      { name: 'condenser_valve.command', relation: 'inflow' },
      { name: 'flash_tank.pressure', relation: 'pressure' },
      { name: 'economizer_compressor.vane_position', relation: 'outside' },
      { name: 'main_compressor.vane_position', relation: 'outside' },
      { name: 'condenser_water.entering_temperature', relation: 'outside' },
    ],
  },
};

/** Pure; at most two hours of each point are read. */
export function judgeLoops(input: LoopsInput): LoopsJudged {
  const from = windowStart(input);
  const judge = (loop: LoopPoints): LoopVerdict =>
    typeof from === 'string' ? noVerdict('unusable', from) : judgeLoop(loop, input, from);
  const loops = { condenser_valve: judge(LOOPS.condenser_valve), tank_valve: judge(LOOPS.tank_valve) };
  return { loops, figures: valveFigures({ loops }) };
}

/** Where the window may begin (ms): after start-up. Or why there is none. */
function windowStart({ running, rule, now }: LoopsInput): number | string {
  if (running.state === 'unknown') return 'not known whether the machine runs';
  if (running.running !== true) return `the machine is ${running.state}`;
  if (running.state === 'low-load cycling') return 'the machine starts and stops at low load';
  const begun = running.started === null ? Number.NEGATIVE_INFINITY : running.started + 1000 * rule.steady_after;
  return Math.max(now - 1000 * LIMITS.hunting_window_s_max, begun);
}

function judgeLoop(loop: LoopPoints, input: LoopsInput, from: number): LoopVerdict {
  const read = (point: string): FastColumns => since(input.columns(point), from);
  const orNull = (point: string): FastColumns | null => {
    const columns = read(point);
    return columns.times.length < 2 ? null : columns;
  };
  const measured = read(loop.level);
  if (measured.times.length === 0)
    return noVerdict(input.columns(loop.level).times.length === 0 ? 'unusable' : 'not_enough', reasonOf(loop, input));
  const window: LoopWindow = {
    kind: 'level',
    measured,
    output: orNull(`${loop.valve}.command`),
    position: orNull(`${loop.valve}.position`),
    setpoint: orNull(loop.setpoint),
    drivers: loop.drivers.flatMap((driver) => {
      const columns = orNull(driver.name);
      return columns === null ? [] : [{ ...driver, columns }];
    }),
    band: input.band ?? LEVEL_BAND,
    stroke: 1,
  };
  return analyseLoop(window, 'recent');
}

function reasonOf({ level }: LoopPoints, input: LoopsInput): string {
  return input.columns(level).times.length === 0
    ? `no fast samples of ${level}`
    : 'the machine has not run long enough since its start';
}

function since({ times, values }: FastColumns, from: number): FastColumns {
  let [low, high] = [0, times.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((times[middle] as number) < from) low = middle + 1;
    else high = middle;
  }
  return { times: times.subarray(low), values: values.subarray(low) };
}
