/**
 * Forward design calculation: the circuit between given pressures (or saturation temperatures) with given efficiencies,
 * scaled to a capacity, a flow or a power. The same tables as solving from points; what is measured there is given
 * here. SI.
 */
import { recordIssues } from '../base/record-issues.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { fromSi, WATTS_PER_TON } from '../base/units.ts';
import type { PointValue } from '../points/types.ts';
import { refrigerant } from '../refrigerant/refrigerants.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import { openBooks, type PreparedMachine } from './books.ts';
import type { Value } from './context.ts';
import { type DesignRecord, designRecord, staged, whatLacks } from './design-record.ts';
import type { Ledger } from './ledger.ts';
import { CYCLE_METRICS } from './metrics/definitions.ts';
import { chillerParameters } from './parameters.ts';
import { numberedStates } from './states.ts';
import { tablesOf } from './tables.ts';
import type { CycleState } from './types.ts';

export interface Design {
  readonly states: Readonly<Record<string, CycleState>>;
  /** W */
  readonly capacity: number;
  /** kg/s through the evaporator */
  readonly flow: number;
  /** W, electrical where drive efficiencies are given, else of the compressors */
  readonly power: number;
  readonly cop: number;
  /** Catalogue units; null where a design has none (water sides). */
  readonly metrics: Readonly<Record<string, number | null>>;
}

/** Faults: `bad_record` (which key, and why), `cycle_impossible`, and those of the refrigerant. */
export function design(given: unknown): Result<Design> {
  const parsed = designRecord.safeParse(given);
  if (!parsed.success) return fail('bad_record', recordIssues(parsed.error));
  const record = parsed.data;
  const lacking = whatLacks(record);
  if (lacking !== null) return fail('bad_record', lacking);
  const fluid = refrigerant(record.refrigerant);
  if (!fluid.ok) return fluid;
  const points = pointsOf(record, fluid.value);
  if (!points.ok) return points;
  const states = givenStates(record, fluid.value);
  if (!states.ok) return states;
  const machine = machineOf(record, fluid.value);
  const open = (more: readonly [string, Value][]) =>
    openBooks(
      machine,
      { time: 0, points: points.value },
      { uncertainty: false, given: new Map([...givenEfficiencies(record), ...states.value, ...more]) },
    ).base;
  return scaled(record, open);
}

/** Efficiencies of machines or stages, as the quantities that stand in for the assumptions of a site file. */
function givenEfficiencies(record: DesignRecord): [string, Value][] {
  const { economizer, compressors } = record;
  const stages = staged(record) && economizer === 'on';
  const names = stages ? ['first_stage', 'second_stage', 'third_stage'] : ['main_compressor', 'economizer_compressor'];
  return names.flatMap((name, at) => {
    // one entry stands for all stages
    const of = compressors[at] ?? (stages ? compressors[0] : undefined);
    const given: [string, Value][] = [];
    if (of?.isentropic_efficiency !== undefined) given.push([`efficiency_given:${name}`, of.isentropic_efficiency]);
    if (of?.polytropic_efficiency !== undefined) given.push([`polytropic_given:${name}`, of.polytropic_efficiency]);
    return given;
  });
}

function machineOf(record: DesignRecord, fluid: Refrigerant): PreparedMachine {
  const of = (at: number) => {
    const { isentropic_efficiency = 1, drive_efficiency = 1 } = record.compressors[at] ?? {};
    return { assumed_isentropic_efficiency: isentropic_efficiency, drive_efficiency };
  };
  const parameters = chillerParameters.parse({
    refrigerant: record.refrigerant,
    arrangement: record.arrangement,
    stages: record.tanks.length > 1 ? 3 : 2,
    subcooler: subcoolerOf(record),
    resolve_approaches: record.condenser_water !== undefined,
    rated_capacity: `${WATTS_PER_TON} W`,
    main_compressor: of(0),
    economizer_compressor: of(1),
  });
  return { parameters, fluid, tables: tablesOf(record.arrangement, parameters.stages) };
}

function subcoolerOf({ subcooler }: DesignRecord): { approach: string; superheat: string } {
  return { approach: `${subcooler?.approach ?? 3} K`, superheat: `${subcooler?.superheat ?? 0} K` };
}

const exact = (value: number): PointValue => ({
  value,
  u: 0,
  quality: 'good',
  reason: null,
  age_s: 0,
  spread: null,
  n: 1,
});

/** Pressures and temperatures as if they were measured. */
function pointsOf(record: DesignRecord, fluid: Refrigerant): Result<Record<string, PointValue>> {
  const pressureOf = (place: { p?: number | undefined; T?: number | undefined }) =>
    place.p === undefined ? fluid.bubblePressure(place.T as number) : ok(place.p);
  const points: Record<string, PointValue> = {
    [staged(record) ? 'economizer.running' : 'economizer_compressor.running']: exact(
      record.economizer === 'on' ? 1 : 0,
    ),
  };
  const evaporator = pressureOf(record.evaporator ?? { p: record.states['1']?.p });
  if (!evaporator.ok) return evaporator;
  const condenser = pressureOf(record.condenser ?? { p: record.states['3']?.p });
  if (!condenser.ok) return condenser;
  if (condenser.value <= evaporator.value)
    return fail(
      'cycle_impossible',
      `condenser pressure ${Math.round(condenser.value)} Pa is not above evaporator pressure ${Math.round(evaporator.value)} Pa`,
    );
  points['evaporator.pressure'] = exact(evaporator.value);
  points['condenser.pressure'] = exact(condenser.value);
  const dew = fluid.dewTemperature(evaporator.value);
  const bubble = fluid.bubbleTemperature(condenser.value);
  if (!dew.ok) return dew;
  if (!bubble.ok) return bubble;
  points['main_compressor.suction_temperature'] = exact(dew.value + (record.evaporator?.superheat ?? 0));
  points['condenser.liquid_temperature'] = exact(bubble.value - (record.condenser?.subcooling ?? 0));
  if (record.condenser_water !== undefined)
    points['condenser_water.entering_temperature'] = exact(record.condenser_water.entering_temperature);
  const between = economizerPressures(record, pressureOf, [evaporator.value, condenser.value]);
  if (!between.ok) return between;
  return ok({ ...points, ...between.value });
}

/** Of the tanks from high pressure to low, as the liquid meets them, or of the subcooler. */
function economizerPressures(
  { tanks, arrangement }: DesignRecord,
  pressureOf: (place: DesignRecord['tanks'][number]) => Result<number>,
  [low, high]: readonly [number, number],
): Result<Record<string, PointValue>> {
  const names =
    arrangement === 'subcooler' ? ['economizer.pressure'] : ['flash_tank.pressure', 'flash_tank_2.pressure'];
  const pressures: number[] = [];
  for (const tank of tanks) {
    const pressure = pressureOf(tank);
    if (!pressure.ok) return pressure;
    if (!(pressure.value > low && pressure.value < high))
      return fail(
        'cycle_impossible',
        `tank pressure ${pressure.value} Pa is not between evaporator and condenser pressure`,
      );
    pressures.push(pressure.value);
  }
  if (pressures.length === 2 && pressures[0] === pressures[1])
    return fail('cycle_impossible', 'both tanks have the same pressure');
  pressures.sort((one, other) => other - one);
  return ok(Object.fromEntries(pressures.map((value, at) => [names[at], exact(value)])));
}

function givenStates(record: DesignRecord, fluid: Refrigerant): Result<[string, Value][]> {
  const given: [string, Value][] = [];
  for (const [number, names] of [
    ['1', ['state:1']],
    ['2', ['known:main_compressor']],
    ['3', ['state:3']],
    ['10', ['known:main_compressor']],
  ] as const) {
    const place = record.states[number];
    if (place === undefined) continue;
    const state = fluid.TP(place.T, place.p);
    if (!state.ok) return fail(state.fault.code, `states.${number}: ${state.fault.message}`);
    for (const name of names) given.push([name, state.value]);
    if (number === '2' || number === '10') given.push(['p_out:main_compressor', place.p]);
  }
  return ok(given);
}

/** States that the second pass takes over: with power given, the discharge would else be asked of it. */
const KEPT = [
  ['discharge:main_compressor', 'known:main_compressor'],
  ['discharge:economizer_compressor', 'known:economizer_compressor'],
  ...(['out_1', 'in_2', 'out_2', 'in_3'] as const).map((end) => [`stage:${end}`, `stage:${end}`] as const),
] as const;

/** Everything is proportional to the flow: solved for 1 W, then for the scale asked for. */
function scaled(record: DesignRecord, open: (more: readonly [string, Value][]) => Ledger): Result<Design> {
  const unit = open([['unit.capacity', 1]]);
  const why = unit.why('evaporator.mass_flow') ?? unit.why('work:main_compressor') ?? whyEconomizer(unit);
  if (why !== null) return fail('cycle_impossible', why);
  const figure = (ledger: Ledger, name: string) => ledger.entry(name) as number;
  const electrical = (ledger: Ledger) =>
    figure(ledger, 'main_compressor.power') +
    (ledger.circuit.machines.length > 1 ? figure(ledger, 'economizer_compressor.power') : 0);
  const capacity =
    record.capacity ??
    (record.flow === undefined
      ? (record.power as number) / electrical(unit)
      : record.flow / figure(unit, 'evaporator.mass_flow'));
  const power = electrical(unit) * capacity;
  const known: [string, Value][] = KEPT.filter(([from]) => unit.knows(from) && unit.has(from)).map(([from, to]) => [
    to,
    unit.entry(from),
  ]);
  const whole = open([...known, ['unit.capacity', capacity], ['unit_power', power]]);
  const metrics: Record<string, number | null> = {};
  for (const { name, unit: wire } of CYCLE_METRICS) {
    const value = whole.entry(name);
    // rated capacity is no part of a design
    metrics[name] = typeof value === 'number' && name !== 'unit.load_fraction' ? fromSi(value, wire) : null;
  }
  return ok({
    states: numberedStates(whole, 'state'),
    capacity,
    flow: figure(whole, 'evaporator.mass_flow'),
    power,
    cop: capacity / power,
    metrics,
  });
}

function whyEconomizer(ledger: Ledger): string | null {
  return ledger.circuit.machines.length > 1
    ? (ledger.why('work:economizer_compressor') ?? ledger.why('economizer_compressor.power'))
    : null;
}
