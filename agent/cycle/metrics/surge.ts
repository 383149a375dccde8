/** How far the main compressor is from surge, by a line that the site file gives. */
import type { Missing } from '../../base/metric.ts';
import type { CycleContext } from '../context.ts';
import type { CycleMetric } from './metric.ts';

/**
 * 1 - Theta_surge(Omega)/Theta at `part` of the present suction flow. Omega = H_s/a1^2 and Theta = V1/a1 (m2), with the
 * sound speed a1 at suction, make one line of a machine for every suction state.
 */
export function surgeMargin(c: CycleContext, part: number): number | Missing {
  const line = c.parameters.surge_line;
  if (line === undefined) return c.missing('surge_line is not configured');
  const { w } = c.state('state:1');
  const head = c.figure('main_compressor.isentropic_head');
  const flow = c.figure('main_compressor.suction_volume_flow') * part;
  if (w === null) return c.missing('suction gas is wet: it has no one sound speed');
  const omega = head / w ** 2;
  if (Number.isNaN(omega + flow)) return c.missing('');
  const surge = thetaAt(c, line, omega);
  return typeof surge === 'number' ? 1 - surge / (flow / w) : surge;
}

/** Between the points of the line by straight pieces; below it the least head given stands for all. */
function thetaAt(c: CycleContext, line: readonly (readonly [number, number])[], omega: number): number | Missing {
  const [first] = line;
  if (first !== undefined && omega <= first[0]) return first[1];
  for (const [at, [right, above]] of line.entries()) {
    const [left, below] = line[at - 1] ?? [Number.NaN, Number.NaN];
    if (omega <= right) return below + ((above - below) * (omega - left)) / (right - left);
  }
  return c.missing('head lies above the configured surge line');
}

export const surgeMetrics: readonly CycleMetric[] = [
  {
    name: 'main_compressor.surge_margin',
    unit: '1',
    meaning:
      'how far the main suction flow is above that at surge for this head, by the configured line; 0 on the line, below zero beyond it',
    formula: '1 - Theta_surge(Omega)/Theta, Omega = main_compressor.isentropic_head/a1^2, Theta = suction flow/a1',
    inputs: ['main_compressor.isentropic_head', 'main_compressor.suction_volume_flow'],
    compute: (c) => surgeMargin(c, 1),
  },
];
