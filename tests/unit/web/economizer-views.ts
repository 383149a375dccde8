/** Views of machines with a subcooler and with three stages, from what the solver makes of their designed points. */

import { must } from '../../../agent/base/result.ts';
import { differenceFromSi, fromSi } from '../../../agent/base/units.ts';
import { circuitFigure } from '../../../agent/cycle/circuit-figure.ts';
import { diagram } from '../../../agent/cycle/diagram.ts';
import { CYCLE_METRICS } from '../../../agent/cycle/metrics/definitions.ts';
import type { CycleState } from '../../../agent/cycle/types.ts';
import { type PointName, pointDefinition } from '../../../agent/points/dictionary.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import type { View } from '../../../agent/web/page-types.ts';
import type { Now, PointFigure } from '../../../agent/web/types.ts';
import { built, designed, pointsOf, SUBCOOLER, THREE } from '../cycle/economizers.ts';
import { good, solved } from '../cycle/given.ts';
import { viewOf } from './views.ts';

const LEVELS = {
  'condenser.level': good(0.52),
  'condenser.level_setpoint': good(0.5),
  'condenser_valve.position': good(0.46),
  'flash_tank.level': good(0.48),
  'flash_tank.level_setpoint': good(0.5),
  'flash_tank_2.level': good(0.51),
  'flash_tank_2.level_setpoint': good(0.5),
  'tank_valve.position': good(0.41),
  'tank_valve_2.position': good(0.38),
  'economizer_valve.position': good(0.33),
  'chilled_water.entering_temperature': good(285.15, 0.1),
  'chilled_water.leaving_temperature': good(279.65, 0.1),
  'condenser_water.entering_temperature': good(302.65, 0.1),
  'condenser_water.leaving_temperature': good(308.15, 0.1),
};

/** The second machine of the fixture replaced by one of these. */
export function economizerView(kind: 'subcooler' | 'three', on = true): View {
  const given = kind === 'subcooler' ? SUBCOOLER : THREE;
  const design = designed(given, on ? 'on' : 'off');
  const points = { ...LEVELS, ...pointsOf(design, given, on) };
  const machine = built(given);
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
  const figures = Object.entries(found.metrics);
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
  for (const { name, unit } of CYCLE_METRICS) catalogue[name] ??= { unit, meaning: name, formula: '' };
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
