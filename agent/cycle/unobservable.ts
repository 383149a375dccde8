/**
 * Which metrics a list of points can never give: the machine is solved at a design condition with each of these points
 * there and good, economizer on and off; what is missing both times is missing always.
 */
import type { PointName } from '../points/dictionary.ts';
import type { PointValue, Snapshot } from '../points/types.ts';
import type { State } from '../refrigerant/types.ts';
import { openBooks, type PreparedMachine } from './books.ts';
import { economizerRunning } from './inputs.ts';
import type { Ledger } from './ledger.ts';
import { vesselsOf } from './measured.ts';
import { CYCLE_METRICS } from './metrics/definitions.ts';

/** A condition at which every refrigerant carried has its states, K. */
const CONDITION = {
  evaporator: 278.15,
  tank: 293.15,
  tank_2: 285.15,
  approach: 3,
  condenser: 310.15,
  subcooling: 4,
  superheat: 1,
};
const LEAST_DISCHARGE_SUPERHEAT = 3;

/** A metric out of reach: why, and what would bring it into reach. */
export interface Unobservable {
  readonly metric: string;
  readonly reason: string;
  /**
   * Sets of points each of which, added to those there are, gives the metric: one point each where one is enough, else
   * one set that cannot be made smaller. None: no points give it on this machine.
   */
  readonly enough: readonly (readonly PointName[])[];
}

/** One way to run, with every point it could show. */
interface Way {
  readonly economizing: boolean;
  readonly all: Readonly<Record<string, number>>;
}

export function unobservableMetrics(machine: PreparedMachine, mapped: readonly string[]): readonly string[] {
  const free = farFromSurge(machine);
  return outOfReach(free, waysOf(free), mapped);
}

/** How near surge lies at the one condition asked about says nothing of what the points can give at others. */
function farFromSurge(machine: PreparedMachine): PreparedMachine {
  if (machine.parameters.surge_line === undefined) return machine;
  const surge_line: [number, number][] = [
    [Number.MIN_VALUE, Number.MIN_VALUE],
    [Number.MAX_VALUE, Number.MIN_VALUE],
  ];
  return { ...machine, parameters: { ...machine.parameters, surge_line } };
}

/** As `unobservableMetrics`, each with its reason; what would help is tried out, not taken from a list. */
export function explainUnobservable(given: PreparedMachine, mapped: readonly string[]): readonly Unobservable[] {
  const machine = farFromSurge(given);
  const ways = waysOf(machine);
  const never = outOfReach(machine, ways, mapped);
  if (never.length === 0) return [];
  const candidates = Object.keys(ways[0]?.all ?? {}).filter((name) => !mapped.includes(name));
  const singles = candidates.map((name) => ({
    name,
    never: new Set(outOfReach(machine, ways, [...mapped, name])),
  }));
  return never.map((metric): Unobservable => {
    const alone = singles.filter((single) => !single.never.has(metric)).map(({ name }) => [name]);
    const gives = (set: readonly string[]) =>
      ways.find((way) => bookOf(machine, way, [...mapped, ...set]).has(metric)) ?? null;
    const enough = alone.length > 0 ? alone : leastSet(metric, candidates, gives);
    const [first] = enough;
    const way = first === undefined ? null : gives(first);
    if (way === null)
      return { metric, reason: why(machine, ways[0] as Way, { metric, of: candidates, mapped }), enough };
    return { metric, reason: why(machine, way, { metric, of: [], mapped }), enough };
  });
}

/** All candidates less those that can be left out; declared inputs are left out last. */
function leastSet(
  metric: string,
  candidates: readonly string[],
  gives: (set: readonly string[]) => Way | null,
): readonly (readonly string[])[] {
  if (gives(candidates) === null) return [];
  const declared = declaredPoints(metric);
  const order = [...candidates].sort((a, b) => Number(declared.has(a)) - Number(declared.has(b)));
  let kept: readonly string[] = candidates;
  for (const name of order) {
    const fewer = kept.filter((other) => other !== name);
    if (gives(fewer) !== null) kept = fewer;
  }
  return [kept];
}

/** Points among the declared inputs of a metric, through whatever metrics lie between. */
function declaredPoints(metric: string): ReadonlySet<string> {
  const seen = new Set<string>();
  const follow = (name: string): void => {
    if (seen.has(name)) return;
    seen.add(name);
    for (const input of CYCLE_METRICS.find((other) => other.name === name)?.inputs ?? []) follow(input);
  };
  follow(metric);
  return seen;
}

function why(
  machine: PreparedMachine,
  way: Way,
  {
    metric,
    of,
    mapped,
  }: { readonly metric: string; readonly of: readonly string[]; readonly mapped: readonly string[] },
): string {
  const snapshot = snapshotOf(way, [...mapped, ...of]);
  const { doubt } = economizerRunning(snapshot, machine.parameters);
  // nothing says that the economizer is off: what follows from 'on' is not the reason
  if (!way.economizing && doubt !== null) return doubt;
  return openBooks(machine, snapshot, { uncertainty: false }).base.why(metric) ?? 'no figure';
}

function waysOf(machine: PreparedMachine): readonly Way[] {
  const ways = machine.parameters.arrangement === 'simple' ? [false] : [true, false];
  return ways.map((economizing) => ({ economizing, all: designPoints(machine, economizing) }));
}

function outOfReach(machine: PreparedMachine, ways: readonly Way[], mapped: readonly string[]): readonly string[] {
  const books = ways.map((way) => bookOf(machine, way, mapped));
  return CYCLE_METRICS.map(({ name }) => name).filter((name) => !books.some((book) => book.has(name)));
}

function bookOf(machine: PreparedMachine, way: Way, mapped: readonly string[]): Ledger {
  return openBooks(machine, snapshotOf(way, mapped), { uncertainty: false }).base;
}

function snapshotOf({ all }: Way, mapped: readonly string[]): Snapshot {
  const points = Object.fromEntries(
    mapped.filter((name) => all[name] !== undefined).map((name) => [name, exact(all[name] as number)]),
  );
  return { time: 0, points };
}

function exact(value: number): PointValue {
  return { value, u: 0, quality: 'good', reason: null, age_s: 0, spread: null, n: 1, rate: { value: 0, u: 0 } };
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
    'flash_tank_2.pressure': pressure(CONDITION.tank_2),
    'flash_tank_2.temperature': CONDITION.tank_2,
    'economizer.pressure': pressure(CONDITION.tank),
    'economizer.liquid_temperature': CONDITION.tank + CONDITION.approach,
    'economizer.vapour_temperature': CONDITION.tank + CONDITION.approach,
    'condenser.liquid_temperature': CONDITION.condenser - CONDITION.subcooling,
    'main_compressor.suction_temperature': CONDITION.evaporator + CONDITION.superheat,
    'economizer_compressor.running': economizing ? 1 : 0,
    'economizer.running': economizing ? 1 : 0,
    ...Object.fromEntries(vesselsOf(parameters).map((name) => [`${name}.level`, 0.5])),
    ...(parameters.hot_gas_bypass === undefined ? {} : { 'hot_gas_bypass.position': 0 }),
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
