/**
 * Mistakes that people make when they map a point, each as what the point would be had it been mapped otherwise:
 * another unit, scale, pressure reference, order of words, or the neighbour's register. Common practice, no source.
 */
import { type Dimension, STANDARD_ATMOSPHERE, type UnitName, unitOf } from '../base/units.ts';
import { type Atmosphere, readingToSi } from '../points/convert.ts';
import type { PointName } from '../points/dictionary.ts';
import type { PointSpec } from '../points/types.ts';
import { amount } from './strain.ts';

export type MistakeCode =
  | 'word_order'
  | 'register'
  | 'number_type'
  | 'unit'
  | 'scale'
  | 'gauge_as_absolute'
  | 'absolute_as_gauge'
  | 'reference'
  | 'swapped';

/** The same registers taken for another number. */
export interface Otherwise {
  readonly code: 'word_order' | 'number_type' | 'register';
  /** Key of the address to correct, such as `order`. */
  readonly key: string;
  /** `order: CDAB` */
  readonly write: string;
  readonly raw: number | null;
  /** Points of one device and one kind of register share the mistake, if it is one. */
  readonly group: string;
}

/** One point as it was read. */
export interface Reading {
  readonly spec: PointSpec;
  /** Null with the reason where nothing was read. */
  readonly raw: number | null;
  readonly reason: string | null;
  readonly otherwise: readonly Otherwise[];
}

export interface Mistake {
  readonly code: MistakeCode;
  /** What would have to be written instead. */
  readonly write: string;
  /** Key of the point's entry, such as `unit` or `address.order`. */
  readonly key: string;
  /** SI values of the points, had they been mapped so. */
  readonly values: ReadonlyMap<PointName, number>;
  /** Evidence that it takes to believe in it, as a sum of squared strains: rarer mistakes take more. */
  readonly cost: number;
}

const COST = 5;
/** Two slips in one. */
const COST_TWO = 9;

/** Units of the trade that are taken for one another. */
const CONFUSED: Readonly<Partial<Record<Dimension, readonly UnitName[]>>> = {
  temperature: ['degC', 'degF'],
  pressure: ['kPa', 'psia', 'bar', 'MPa', 'inHg_abs', 'kPag', 'psig', 'barg', 'inHg_vac'],
  pressure_difference: ['delta_kPa', 'delta_psi', 'ftH2O', 'delta_bar'],
  volume_flow: ['m3/h', 'l/s', 'gpm', 'm3/s', 'cfm'],
  power: ['kW', 'W', 'MW', 'hp', 'ton'],
  fraction: ['%', '1'],
  speed: ['rpm', 'Hz'],
  time: ['h', 'min', 's'],
};
/** The same steps, counted from the other zero. */
const OTHER_ZERO: Readonly<Partial<Record<UnitName, UnitName>>> = {
  kPa: 'kPag',
  psia: 'psig',
  bar: 'barg',
  inHg_abs: 'inHg_vac',
  kPag: 'kPa',
  psig: 'psia',
  barg: 'bar',
  inHg_vac: 'inHg_abs',
};
const FACTORS = [10, 0.1, 100, 0.01, 1000, 0.001] as const;
/** Where a power of ten is a unit already, the unit is named. */
const TENS_ARE_UNITS: ReadonlySet<Dimension> = new Set(['power', 'fraction']);
/** Mistakes of a flow's time base: factor, words. */
const PER_TIME = [
  [60, 'a flow per minute taken as one per hour'],
  [1 / 60, 'a flow per hour taken as one per minute'],
] as const;

/** Points whose registers are taken for one another, in whole sets. */
const EXCHANGED: readonly (readonly (readonly [PointName, PointName])[])[] = [
  ...pairs('chilled_water.entering_temperature', ['chilled_water.leaving_temperature']),
  ...pairs('condenser_water.entering_temperature', ['condenser_water.leaving_temperature']),
  ...pairs('evaporator.pressure', ['condenser.pressure', 'flash_tank.pressure']),
  ...pairs('flash_tank.pressure', ['condenser.pressure']),
  ...pairs('main_compressor.suction_temperature', ['main_compressor.discharge_temperature']),
  ...pairs('economizer_compressor.suction_temperature', ['economizer_compressor.discharge_temperature']),
  ...pairs('main_compressor.discharge_temperature', ['economizer_compressor.discharge_temperature']),
  ...pairs('condenser.liquid_temperature', ['flash_tank.temperature', 'main_compressor.discharge_temperature']),
  ...pairs('chilled_water.flow', ['condenser_water.flow']),
  ...pairs('main_compressor.power', ['economizer_compressor.power', 'unit.power']),
  ...pairs('unit.power', ['economizer_compressor.power']),
  ...pairs('outdoor.temperature', ['outdoor.wet_bulb_temperature']),
  ...pairs('condenser_valve.position', ['tank_valve.position']),
  ...pairs('condenser.level', ['flash_tank.level']),
  [
    ['chilled_water.entering_temperature', 'condenser_water.entering_temperature'],
    ['chilled_water.leaving_temperature', 'condenser_water.leaving_temperature'],
  ],
  ...pairs('chilled_water.entering_temperature', [
    'condenser_water.entering_temperature',
    'condenser_water.leaving_temperature',
  ]),
  ...pairs('chilled_water.leaving_temperature', [
    'condenser_water.leaving_temperature',
    'condenser_water.entering_temperature',
  ]),
];

function pairs(one: PointName, others: readonly PointName[]): [PointName, PointName][][] {
  return others.map((other) => [[one, other]]);
}

/** Every mistake that could have been made with these readings. */
export function possibleMistakes(readings: readonly Reading[], air: Atmosphere): Mistake[] {
  const single = readings.flatMap((reading) => mistakesOf(reading, air));
  return [...single, ...shared(single), ...exchanges(readings, air)];
}

function mistakesOf(reading: Reading, air: Atmosphere): Tagged[] {
  const { spec, raw, otherwise } = reading;
  const at = (changed: PointSpec, number: number): ReadonlyMap<PointName, number> =>
    new Map([[spec.name, readingToSi(number * changed.scale + changed.offset, changed, air)]]);
  const found: Tagged[] = otherwise.flatMap(({ code, key, write, raw: other, group }) =>
    other === null
      ? []
      : [{ code, write, key: `address.${key}`, values: at(spec, other), cost: COST, group: `${group} ${write}` }],
  );
  if (raw === null) return found;
  for (const [changed, code, key, write, cost] of otherwiseMapped(spec, raw, air)) {
    // The same slip with every point of that unit and scale, most often of one panel.
    const group = `${spec.unit} ${spec.scale} ${key} ${write}`;
    found.push({ code, key, write, values: at(changed, raw), cost, group });
  }
  return found;
}

type Tagged = Mistake & { readonly group: string };
type Changed = readonly [PointSpec, MistakeCode, key: string, write: string, cost: number];

function otherwiseMapped(spec: PointSpec, raw: number, air: Atmosphere): Changed[] {
  const { unit, scale } = spec;
  const { dimension, gauge } = unitOf(unit);
  const found: Changed[] = [];
  // Near the standard atmosphere the two kinds of gauge cannot be told apart.
  const standard = Math.abs(air.local - STANDARD_ATMOSPHERE) <= 2000;
  for (const other of CONFUSED[dimension] ?? []) {
    if (other === unit) continue;
    const toGauge = unitOf(other).gauge === true;
    const both = toGauge && gauge === true;
    const reference = both ? spec.reference : toGauge ? 'vented_gauge' : 'absolute';
    const changed: PointSpec = { ...spec, unit: other, reference };
    const zero = standard ? 'vented_gauge or sealed_gauge, as the transmitter is' : 'vented_gauge';
    const write = toGauge && !both ? `unit: ${other}, reference: ${zero}` : `unit: ${other}`;
    if (OTHER_ZERO[unit] === other)
      found.push([changed, toGauge ? 'gauge_as_absolute' : 'absolute_as_gauge', 'unit', write, COST]);
    else found.push([changed, 'unit', 'unit', write, toGauge === (gauge === true) ? COST : COST_TWO]);
  }
  if (gauge === true) {
    const reference = spec.reference === 'sealed_gauge' ? 'vented_gauge' : 'sealed_gauge';
    if (!standard) found.push([{ ...spec, reference }, 'reference', 'reference', `reference: ${reference}`, COST]);
  }
  for (const factor of FACTORS) {
    if (TENS_ARE_UNITS.has(dimension) && Math.abs(Math.log10(factor)) > 1) continue;
    const value = Number((scale * factor).toPrecision(12));
    // Whole numbers carry a scale; a float with one is rarer.
    const cost = Number.isInteger(raw) ? COST : COST + 1;
    found.push([{ ...spec, scale: value }, 'scale', 'scale', `scale: ${value}`, cost]);
  }
  if (dimension === 'temperature' && spec.offset === 0)
    found.push([{ ...spec, offset: -40 }, 'scale', 'offset', 'offset: -40', COST + 1]);
  if (dimension === 'volume_flow')
    for (const [factor, words] of PER_TIME)
      found.push([{ ...spec, scale: scale * factor }, 'unit', 'unit', `another unit (${words})`, COST]);
  return found;
}

/** The same slip made with several points at once. */
function shared(single: readonly Tagged[]): Mistake[] {
  const groups = new Map<string, Tagged[]>();
  for (const each of single) groups.set(each.group, [...(groups.get(each.group) ?? []), each]);
  return [...groups.values()]
    .filter((each) => each.length > 1)
    .map((each) => ({
      ...(each[0] as Tagged),
      values: new Map(each.flatMap(({ values }) => [...values])),
      cost: COST_TWO,
    }));
}

function exchanges(readings: readonly Reading[], air: Atmosphere): Mistake[] {
  const byName = new Map(readings.map((reading) => [reading.spec.name, reading]));
  return EXCHANGED.flatMap((sets): Mistake[] => {
    const values = new Map<PointName, number>();
    for (const [a, b] of sets) {
      const [one, other] = [byName.get(a), byName.get(b)];
      if (one?.raw == null || other?.raw == null) return [];
      // Registers are exchanged and what is beside them stays; where units differ, the entries were exchanged whole.
      const same = one.spec.unit === other.spec.unit && one.spec.scale === other.spec.scale;
      const si = (spec: PointSpec, raw: number): number => readingToSi(raw * spec.scale + spec.offset, spec, air);
      values.set(a, same ? si(one.spec, other.raw) : si(other.spec, other.raw));
      values.set(b, same ? si(other.spec, one.raw) : si(one.spec, one.raw));
    }
    const write = sets.map(([a, b]) => `${a} and ${b} exchanged`).join(', ');
    return [{ code: 'swapped', key: 'address', write, values, cost: sets.length > 1 ? COST_TWO : COST }];
  });
}

/** The values of a mistake's points as they would be, for people. */
export function wouldBe(mistake: Mistake): string {
  const shown = [...mistake.values].map(([name, value]) => amount(value, name));
  const more = shown.length - 4;
  return `${shown.slice(0, 4).join(', ')}${more > 0 ? ` and ${more} more` : ''}`;
}
