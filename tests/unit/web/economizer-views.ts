/** Views of machines with a subcooler and with three stages, from what the solver makes of their designed points. */

import { must } from '../../../agent/base/result.ts';
import { differenceFromSi, fromSi } from '../../../agent/base/units.ts';
import { circuitFigure } from '../../../agent/cycle/circuit-figure.ts';
import { diagram } from '../../../agent/cycle/diagram.ts';
import { CYCLE_METRICS } from '../../../agent/cycle/metrics/definitions.ts';
import type { CycleState } from '../../../agent/cycle/types.ts';
import { type PointName, pointDefinition } from '../../../agent/points/dictionary.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { noVerdict } from '../../../agent/valves/analyse.ts';
import { VALVE_METRICS, valveFigures } from '../../../agent/valves/metrics.ts';
import type { View } from '../../../agent/web/page-types.ts';
import type { Now, PointFigure } from '../../../agent/web/types.ts';
import { built, designed, pointsOf, SUBCOOLER, THREE } from '../cycle/economizers.ts';
import { good, solved } from '../cycle/given.ts';
import { viewOf } from './views.ts';

const rising = (value: number, rate: number) => ({ ...good(value), rate: { value: rate, u: 1e-5 } });
const VESSEL = { liquid_area: '1.2 m2', level_range: '700 mm' };
const VESSELS = { condenser: VESSEL, flash_tank: VESSEL, flash_tank_2: VESSEL };

const LEVELS = {
  'condenser.level': rising(0.52, 3e-4),
  'condenser.level_setpoint': good(0.5),
  'condenser_valve.position': good(0.46),
  'flash_tank.level': rising(0.48, -2e-4),
  'flash_tank.level_setpoint': good(0.5),
  'flash_tank_2.level': rising(0.51, 1e-4),
  'flash_tank_2.level_setpoint': good(0.5),
  'tank_valve.position': good(0.41),
  'tank_valve_2.position': good(0.38),
  'economizer_valve.position': good(0.33),
  'chilled_water.entering_temperature': good(285.15, 0.1),
  'chilled_water.leaving_temperature': good(279.65, 0.1),
  'condenser_water.entering_temperature': good(302.65, 0.1),
  'condenser_water.leaving_temperature': good(308.15, 0.1),
};

const still = { ...noVerdict('not_enough', ''), verdict: 'steady', reason: null, index: 0.2 } as const;
const hunting = {
  ...still,
  verdict: 'hunting',
  index: 0.83,
  period_s: { value: 92, uncertainty: 3 },
  level_amplitude: { value: 0.034, uncertainty: 0.004 },
} as const;
/** The second tank hunts. */
const LOOPS = {
  subcooler: { condenser_valve: still },
  three: { condenser_valve: still, tank_valve: still, tank_valve_2: hunting },
} as const;

/** The second machine of the fixture replaced by one of these. */
export function economizerView(kind: 'subcooler' | 'three', on = true): View {
  const given = kind === 'subcooler' ? SUBCOOLER : THREE;
  const design = designed(given, on ? 'on' : 'off');
  const points = { ...LEVELS, ...pointsOf(design, given, on) };
  const machine = built(given, kind === 'three' ? { vessels: VESSELS } : {});
  const found = solved(points, machine);
  const view = viewOf({ chosen: 'CH-2' });
  const base = view.nows['CH-2'] as Now;
  const shown = Object.fromEntries(
    Object.entries(points).map(([name, { value, u }]): [string, PointFigure] => {
      const { unit } = pointDefinition(name as PointName);
      const uncertainty = u === null ? null : differenceFromSi(2 * u, unit);
      return [
        name,
        { value: fromSi(value as number, unit), unit, uncertainty, quality: 'good', reason: null, age_s: 2 },
      ];
    }),
  );
  const figures = Object.entries({ ...found.metrics, ...valveFigures({ loops: LOOPS[kind] }) });
  const now: Now = {
    ...base,
    economizer: on ? 'on' : 'off',
    values: Object.fromEntries(figures.map(([name, { value }]) => [name, value])),
    uncertainty: Object.fromEntries(
      figures.flatMap(([n, { uncertainty }]) => (uncertainty === null ? [] : [[n, uncertainty]])),
    ),
    quality: Object.fromEntries(
      figures.flatMap(([name, { quality, reason }]) =>
        quality === 'good' ? [] : [[name, { quality, reason: reason ?? '' }]],
      ),
    ),
    points: shown,
    states: found.states as Record<string, CycleState>,
    ghost: found.ghost,
  };
  const fluid = must(refrigerant(machine.refrigerant));
  const catalogue = { ...view.site.catalogue };
  for (const { name, unit } of [...CYCLE_METRICS, ...VALVE_METRICS])
    catalogue[name] ??= { unit, meaning: name, formula: '' };
  return {
    ...view,
    nows: { ...view.nows, 'CH-2': now },
    diagram: diagram(fluid, [40e3, 262e3]),
    site: {
      ...view.site,
      catalogue,
      chillers: view.site.chillers.map((chiller) =>
        chiller.id === 'CH-2'
          ? { ...chiller, arrangement: machine.arrangement, circuit: circuitFigure(machine) }
          : chiller,
      ),
    },
  };
}
