/**
 * What the running state says as metrics. Counted since this agent watches the machine; a controller's own counters are
 * points.
 */
import { type MetricDefinition, type Missing, missing } from '../base/metric.ts';
import type { RunningState, UnitState } from './running.ts';

/** States by their number as published; the text stands beside it in the record. */
export const UNIT_STATES: readonly Exclude<UnitState, 'unknown'>[] = [
  'off',
  'starting',
  'pull-down',
  'load change',
  'steady',
  'low-load cycling',
  'stopping',
  'standstill',
  'running',
];

const RUNNING_INPUTS = ['unit.running', 'main_compressor.running', 'unit.power', 'main_compressor.power'];

export const RUNNING_METRICS: readonly MetricDefinition<RunningState>[] = [
  {
    name: 'unit.state',
    unit: 'state',
    meaning: `what the machine is doing: ${UNIT_STATES.map((state, number) => `${number} ${state}`).join(', ')}`,
    formula: 'by the running rule of the site file',
    inputs: RUNNING_INPUTS,
    compute({ state }): number | Missing {
      return state === 'unknown' ? missing('no point says whether the chiller runs') : UNIT_STATES.indexOf(state);
    },
  },
  {
    name: 'unit.starts',
    unit: 'count',
    meaning: 'starts since the agent watches the machine',
    formula: 'changes from not running to running',
    inputs: RUNNING_INPUTS,
    compute: ({ time, starts }) => (time === null ? missing('not watched yet') : starts),
  },
  {
    name: 'unit.starts_per_hour',
    unit: 'per_hour',
    meaning: 'starts within the last hour',
    formula: 'changes from not running to running',
    inputs: RUNNING_INPUTS,
    compute: ({ time, recent_starts }) => {
      if (time === null) return missing('not watched yet');
      return recent_starts.filter((start) => start > time - 3_600_000).length / 3600;
    },
  },
  {
    name: 'unit.run_hours',
    unit: 'h',
    meaning: 'hours run since the agent watches the machine; time without readings is not counted',
    formula: 'sum of the intervals at whose both ends the chiller ran',
    inputs: RUNNING_INPUTS,
    compute: ({ time, run_seconds }) => (time === null ? missing('not watched yet') : run_seconds),
  },
];
