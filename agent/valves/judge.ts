/**
 * The level loops of a machine, judged together once an interval over what the fast window holds. Each valve feeds the
 * next vessel, so its movements stand beside that vessel's level as what may drive it.
 */
import { LIMITS } from '../base/limits.ts';
import type { Figure } from '../base/metric.ts';
import { arrangementOf } from '../cycle/arrangements/table.ts';
import type { Vessel } from '../cycle/arrangements/type.ts';
import type { ChillerParameters } from '../cycle/parameters.ts';
import type { FastColumns } from '../points/fast-window.ts';
import type { RunningRule, RunningState } from '../points/running.ts';
import { analyseLoop, noVerdict } from './analyse.ts';
import { LOOP_NAMES, type LoopName, type LoopVerdicts, valveFigures } from './metrics.ts';
import type { Driver, LoopVerdict, LoopWindow } from './types.ts';

export interface LoopsInput {
  /** How the machine is built: which loops it has. */
  readonly machine: Pick<ChillerParameters, 'arrangement' | 'stages'>;
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
  readonly loops: LoopVerdicts;
  readonly figures: Readonly<Record<string, Figure>>;
}

/** 1 % of the range of the level (Hagglund 1995, from memory). */
export const LEVEL_BAND = 0.01;

interface LoopPoints {
  readonly vessel: Vessel;
  readonly valve: LoopName;
  readonly drivers: readonly Omit<Driver, 'columns'>[];
}

/** What no loop can move. */
const OUTSIDE: LoopPoints['drivers'] = [
  { name: 'main_compressor.vane_position', relation: 'outside' },
  { name: 'condenser_water.entering_temperature', relation: 'outside' },
];

const LOOPS: Readonly<Record<LoopName, LoopPoints>> = {
  condenser_valve: {
    vessel: 'condenser',
    valve: 'condenser_valve',
    drivers: OUTSIDE,
  },
  tank_valve: {
    vessel: 'flash_tank',
    valve: 'tank_valve',
    drivers: [
      { name: 'condenser_valve.position', relation: 'inflow' },
      { name: 'condenser_valve.command', relation: 'inflow' },
      { name: 'flash_tank.pressure', relation: 'pressure' },
      { name: 'economizer_compressor.vane_position', relation: 'outside' },
      ...OUTSIDE,
    ],
  },
  tank_valve_2: {
    vessel: 'flash_tank_2',
    valve: 'tank_valve_2',
    drivers: [
      { name: 'tank_valve.position', relation: 'inflow' },
      { name: 'tank_valve.command', relation: 'inflow' },
      { name: 'flash_tank_2.pressure', relation: 'pressure' },
      ...OUTSIDE,
    ],
  },
};

/** Of the machine: each vessel whose level a valve holds. */
export function loopsOf(machine: LoopsInput['machine']): readonly LoopName[] {
  const { pools } = arrangementOf(machine).on.liquid;
  return LOOP_NAMES.filter((name) => pools.some(({ vessel }) => vessel === LOOPS[name].vessel));
}

/** Pure; at most two hours of each point are read. */
export function judgeLoops(input: LoopsInput): LoopsJudged {
  const from = windowStart(input);
  const judge = (loop: LoopPoints): LoopVerdict =>
    typeof from === 'string' ? noVerdict('unusable', from) : judgeLoop(loop, input, from);
  const loops: LoopVerdicts = Object.fromEntries(loopsOf(input.machine).map((name) => [name, judge(LOOPS[name])]));
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
  const level = `${loop.vessel}.level`;
  const measured = read(level);
  if (measured.times.length === 0)
    return noVerdict(input.columns(level).times.length === 0 ? 'unusable' : 'not_enough', reasonOf(level, input));
  const window: LoopWindow = {
    kind: 'level',
    measured,
    output: orNull(`${loop.valve}.command`),
    position: orNull(`${loop.valve}.position`),
    setpoint: orNull(`${level}_setpoint`),
    drivers: loop.drivers.flatMap((driver) => {
      const columns = orNull(driver.name);
      return columns === null ? [] : [{ ...driver, columns }];
    }),
    band: input.band ?? LEVEL_BAND,
    stroke: 1,
  };
  return analyseLoop(window, 'recent');
}

function reasonOf(level: string, input: LoopsInput): string {
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
