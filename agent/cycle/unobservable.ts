/**
 * Which metrics a list of points can never give: the machine is solved at a design condition with each of these points
 * there and good, economizer on and off; what is missing both times is missing always.
 */
import type { PointValue, Snapshot } from '../points/types.ts';
import type { State } from '../refrigerant/types.ts';
import { openBooks, type PreparedMachine } from './books.ts';
import { CYCLE_METRICS } from './metrics/definitions.ts';

/** A condition at which every refrigerant carried has its states, K. */
const CONDITION = { evaporator: 278.15, tank: 293.15, condenser: 310.15, subcooling: 4, superheat: 1 };
const LEAST_DISCHARGE_SUPERHEAT = 3;

export function unobservableMetrics(machine: PreparedMachine, mapped: readonly string[]): readonly string[] {
  const ways = machine.parameters.arrangement === 'simple' ? [false] : [true, false];
  const seen = new Set<string>();
  for (const economizing of ways) {
    const all = designPoints(machine, economizing);
    const points = Object.fromEntries(
      mapped.filter((name) => all[name] !== undefined).map((name) => [name, exact(all[name] as number)]),
    );
    const { base } = openBooks(machine, { time: 0, points }, { uncertainty: false });
    for (const metric of CYCLE_METRICS) if (base.has(metric.name)) seen.add(metric.name);
  }
  return CYCLE_METRICS.filter((metric) => !seen.has(metric.name)).map((metric) => metric.name);
}

function exact(value: number): PointValue {
  return { value, u: 0, quality: 'good', reason: null, age_s: 0, spread: null, n: 1 };
}

/** Every point the cycle reads, consistent with each other, at rated capacity. */
function designPoints(machine: PreparedMachine, economizing: boolean): Record<string, number> {
  const { fluid, parameters } = machine;
  const pressure = (T: number) => {
    const found = fluid.bubblePressure(T);
    return found.ok ? found.value : Number.NaN;
  };
  const points: Record<string, number> = {
    'evaporator.pressure': pressure(CONDITION.evaporator),
    'condenser.pressure': pressure(CONDITION.condenser),
    'flash_tank.pressure': pressure(CONDITION.tank),
    'flash_tank.temperature': CONDITION.tank,
    'condenser.liquid_temperature': CONDITION.condenser - CONDITION.subcooling,
    'main_compressor.suction_temperature': CONDITION.evaporator + CONDITION.superheat,
    'economizer_compressor.running': economizing ? 1 : 0,
    'economizer.running': economizing ? 1 : 0,
  };
  const snapshot: Snapshot = {
    time: 0,
    points: Object.fromEntries(Object.entries(points).map(([name, value]) => [name, exact(value)])),
  };
  const given = new Map([['unit.capacity', parameters.rated_capacity]]);
  const { base } = openBooks(machine, snapshot, { uncertainty: false, given });
  const figure = (name: string) => {
    const value = base.entry(name);
    return typeof value === 'number' ? value : 0;
  };
  const least = CONDITION.condenser + LEAST_DISCHARGE_SUPERHEAT;
  for (const name of ['main_compressor', 'economizer_compressor']) {
    const out = base.entry(`discharge:${name}`);
    const T = typeof out === 'object' && 'T' in out ? (out as State).T : 0;
    points[`${name}.discharge_temperature`] = Math.max(T, least);
    const power = figure(`${name}.power`);
    Object.assign(points, {
      [`${name}.power`]: power,
      [`${name}.voltage`]: 400,
      [`${name}.power_factor`]: 0.9,
      [`${name}.current`]: power / (400 * 0.9 * Math.sqrt(3)),
    });
  }
  points['unit.power'] = (points['main_compressor.power'] ?? 0) + (points['economizer_compressor.power'] ?? 0);
  const heat = parameters.rated_capacity;
  return {
    ...points,
    'chilled_water.entering_temperature': CONDITION.evaporator + 7,
    'chilled_water.leaving_temperature': CONDITION.evaporator + 2,
    'chilled_water.flow': heat / (4.19e6 * 5),
    'condenser_water.entering_temperature': CONDITION.condenser - 7,
    'condenser_water.leaving_temperature': CONDITION.condenser - 2,
    'condenser_water.flow': (heat + (points['unit.power'] as number)) / (4.19e6 * 5),
  };
}
