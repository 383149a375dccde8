/** What must hold between the keys of `machine`. */
import { arrangementOf } from '../cycle/arrangements/table.ts';
import { vesselsOf } from '../cycle/measured.ts';
import { type ChillerParameters, chillerParameters } from '../cycle/parameters.ts';
import { issue, type SiteIssue, type SitePath } from './issues.ts';

/** Points that tell an economizer's vapour; each only on the arrangement named. */
const ELSEWHERE: readonly (readonly [RegExp, string, (of: { arrangement: string; stages: number }) => boolean])[] = [
  [
    /^(flash_tank_2|tank_valve_2)\./,
    'a machine of three stages',
    ({ arrangement, stages }) => arrangement === 'interstage' && stages === 3,
  ],
  [
    /^economizer(_valve)?\.(?!running$)/,
    "the arrangement 'subcooler'",
    ({ arrangement }) => arrangement === 'subcooler',
  ],
];

/** `points`: names that the chiller maps. */
export function machineIssues(
  given: unknown,
  { path, points }: { readonly path: SitePath; readonly points: readonly string[] },
): SiteIssue[] {
  const { success, data } = chillerParameters.safeParse(given);
  if (!success) return [];
  const issues: SiteIssue[] = [];
  const at = (...keys: string[]): SitePath => [...path, 'machine', ...keys];
  if (data.stages === 3 && data.arrangement !== 'interstage')
    issues.push(issue('config_value', at('stages'), `three stages with two tanks: only with arrangement 'interstage'`));
  const { low, high } = data.efficiency_ratio ?? { low: 1, high: 1 };
  if (low > high)
    issues.push(issue('config_value', at('efficiency_ratio', 'low'), `${low} is above high, ${high}: exchange them`));
  if (data.hot_gas_bypass !== undefined && !points.includes('hot_gas_bypass.position'))
    issues.push(
      issue('config_value', at('hot_gas_bypass'), 'needs the point hot_gas_bypass.position: map it, or leave this out'),
    );
  if (data.motor_cooling && data.main_compressor.motor === 'open')
    issues.push(
      issue(
        'config_value',
        at('motor_cooling'),
        "only a hermetic motor is cooled by refrigerant, and main_compressor.motor is 'open': correct one",
      ),
    );
  for (const [vessel, message] of strayVessels(data, points))
    issues.push(issue('config_value', at('vessels', vessel), message));
  for (const name of points)
    for (const [points, of, fits] of ELSEWHERE)
      if (points.test(name) && !fits(data))
        issues.push(
          issue('config_value', [...path, 'points', name], `only ${of} has this: set machine or leave it out`),
        );
  return issues;
}

/** Vessels that the machine does not have, or whose level nothing tells. */
function strayVessels(machine: ChillerParameters, points: readonly string[]): [string, string][] {
  const { pools } = arrangementOf(machine).on.liquid;
  return vesselsOf(machine).flatMap((vessel): [string, string][] => {
    if (pools.every((pool) => pool.vessel !== vessel)) return [[vessel, 'this machine has none: leave it out']];
    const level = `${vessel}.level`;
    return points.includes(level) ? [] : [[vessel, `needs the point ${level}: map it, or leave this out`]];
  });
}
