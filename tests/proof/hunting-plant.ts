/**
 * The search for hunting beside the emulated plant: a clean month (no verdict of hunting may come) and a sticking valve
 * (it must come, with its cause), judged each minute as the agent does, on samples every 2 s.
 *
 *     node agent/launch.cjs --node tests/proof/hunting-plant.ts [--chiller CH-1] [--days 30] [--seed 1] [--every 60]
 *          [--faults 2,3,4,6]
 */
import { parseArgs } from 'node:util';
import { toSi, type UnitName } from '../../agent/base/units.ts';
import type { PlantFault } from '../../agent/plant/faults.ts';
import { MACHINES } from '../../agent/plant/kestrel-quay/machines.ts';
import { Plant } from '../../agent/plant/plant.ts';
import type { FastColumns } from '../../agent/points/fast-window.ts';
import { RUNNING_START, runningRule } from '../../agent/points/running.ts';
import { judgeLoops, type LoopsJudged, loopsOf } from '../../agent/valves/judge.ts';
import type { LoopName } from '../../agent/valves/metrics.ts';
import type { LoopVerdict } from '../../agent/valves/types.ts';

const FAST = [
  'condenser.level',
  'condenser.level_setpoint',
  'condenser_valve.position',
  'condenser_valve.command',
  'flash_tank.level',
  'flash_tank.level_setpoint',
  'tank_valve.position',
  'tank_valve.command',
  'main_compressor.vane_position',
  'economizer_compressor.vane_position',
];
const EMPTY: FastColumns = { times: new Float64Array(0), values: new Float64Array(0) };
const SAMPLE = 2;
const WINDOW = 7200 / SAMPLE;

/** The last two hours of each point, as the agent's fast window holds them. */
class Samples {
  readonly columns = new Map<string, { times: number[]; values: number[] }>();

  second(plant: Plant): void {
    if (plant.clock % SAMPLE !== 0) return;
    for (const name of FAST) {
      const sensor = plant.sensors.get(name);
      if (sensor === undefined) continue;
      const kept = this.columns.get(name) ?? { times: [], values: [] };
      this.columns.set(name, kept);
      kept.times.push(1000 * plant.clock);
      kept.values.push(toSi(sensor.published, sensor.point.unit as UnitName));
      if (kept.times.length > 2 * WINDOW) {
        kept.times.splice(0, WINDOW);
        kept.values.splice(0, WINDOW);
      }
    }
  }

  read(name: string): FastColumns {
    const kept = this.columns.get(name);
    if (kept === undefined) return EMPTY;
    const [times, values] = [kept.times.slice(-WINDOW), kept.values.slice(-WINDOW)];
    return { times: Float64Array.from(times), values: Float64Array.from(values) };
  }
}

/** Both machines of the plant have a condenser and one tank. */
const TWO_LOOPS = { arrangement: 'parallel', stages: 2 } as const;
const NAMES = loopsOf(TWO_LOOPS);

interface Run {
  readonly chiller: string;
  readonly seed: number;
  readonly hours: number;
  /** Seconds between judgements. */
  readonly every: number;
  readonly faults: readonly PlantFault[];
}

export function watchPlant(run: Run, each: (judged: LoopsJudged, elapsed: number) => void): void {
  const entry = MACHINES[run.chiller];
  if (entry === undefined) throw new Error(`no machine ${run.chiller}`);
  const start = Date.UTC(2026, 6, 1, 6);
  const plant = new Plant({ machine: entry.build(run.seed), seed: run.seed, start, faults: run.faults });
  const samples = new Samples();
  plant.listeners.push(samples);
  const rule = runningRule.parse({});
  const running = { ...RUNNING_START, state: 'steady', running: true, steady: true } as const;
  for (let elapsed = run.every; elapsed <= 3600 * run.hours; elapsed += run.every) {
    plant.advance(run.every);
    const columns = (name: string) => samples.read(name);
    each(judgeLoops({ machine: TWO_LOOPS, columns, now: 1000 * plant.clock, running, rule }), elapsed);
  }
}

function cleanMonth(options: Omit<Run, 'faults'>): void {
  const counts: Record<string, number> = {};
  const began = performance.now();
  watchPlant({ ...options, faults: [] }, ({ loops }, elapsed) => {
    for (const name of NAMES) {
      const { verdict, cause, period_s, level_amplitude, index } = loops[name] as LoopVerdict;
      const key = `${name} ${verdict}`;
      counts[key] = (counts[key] ?? 0) + 1;
      if (verdict === 'hunting')
        console.log(
          `  at ${(elapsed / 3600).toFixed(2)} h ${name}: ${cause}, index ${index?.toFixed(2)}, ` +
            `period ${period_s?.value.toFixed(0)} s, amplitude ${(100 * (level_amplitude?.value ?? 0)).toFixed(2)} %`,
        );
    }
  });
  const seconds = (performance.now() - began) / 1000;
  console.log(
    `${options.chiller}, ${options.hours} h clean, seed ${options.seed}: ${JSON.stringify(counts)}; ${seconds.toFixed(0)} s`,
  );
}

function stickingValve(options: Omit<Run, 'faults'>, valve: LoopName, severity: number): void {
  const begin = 3 * 3600;
  const fault: PlantFault = {
    name: 'sticking_valve',
    target: valve,
    severity,
    start: begin,
    end: Number.POSITIVE_INFINITY,
  };
  const other: LoopName = valve === 'tank_valve' ? 'condenser_valve' : 'tank_valve';
  const [said, besides]: Record<string, number>[] = [{}, {}];
  let [first, after, early] = [null as number | null, 0, 0];
  watchPlant({ ...options, faults: [fault] }, ({ loops }, elapsed) => {
    const [mine, others] = [loops[valve] as LoopVerdict, loops[other] as LoopVerdict];
    if (elapsed < begin) {
      if (mine.verdict === 'hunting') early++;
      return;
    }
    after++;
    const word = mine.verdict === 'hunting' ? String(mine.cause) : mine.verdict;
    said![word] = (said![word] ?? 0) + 1;
    const beside = others.verdict === 'hunting' ? String(others.cause) : others.verdict;
    besides![beside] = (besides![beside] ?? 0) + 1;
    if (mine.verdict === 'hunting' && first === null) first = elapsed - begin;
  });
  console.log(
    `${options.chiller} ${valve} sticking by ${severity} %: first said after ${first === null ? 'never' : `${(first / 60).toFixed(0)} min`}; ` +
      `of ${after} judgements ${JSON.stringify(said)}; ${other} ${JSON.stringify(besides)}; before the fault ${early}`,
  );
}

const { values } = parseArgs({
  options: {
    chiller: { type: 'string', default: 'CH-1' },
    days: { type: 'string', default: '30' },
    seed: { type: 'string', default: '1' },
    every: { type: 'string', default: '60' },
    faults: { type: 'string', default: '2,3,4,6' },
  },
});
const common = { chiller: values.chiller, seed: Number(values.seed), every: Number(values.every) };
if (Number(values.days) > 0) cleanMonth({ ...common, hours: 24 * Number(values.days) });
for (const severity of values.faults.split(',').filter((each) => each !== ''))
  for (const valve of NAMES) stickingValve({ ...common, hours: 9 }, valve, Number(severity));
