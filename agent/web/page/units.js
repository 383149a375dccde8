/**
 * Catalogue units to the figures people read, in I-P or SI. Pure; shared by agent and browser. Factors are exact where
 * the definition is (NIST SP 811): psi 6.894757 kPa, Btu(IT) 1055.05585262 J, lb 0.45359237 kg, ton of refrigeration
 * 3.516853 kW, US gallon 231 in3, inHg at 0 degC 3.386389 kPa.
 * @import { UnitSystem, Written } from '../page-types.ts'
 */
import { num } from './text.js';

const PSI = (0.45359237 * 9.80665) / 0.0254 ** 2 / 1000;
const INHG = 3.386389;
const BTU_PER_LB = 2.326;
const TON = 3.516852842;
const CFM = 60 / 0.3048 ** 3;
const GPM = 60 / (231 * 0.0254 ** 3);
const LB_PER_MIN = 60 / 0.45359237;
const FOOT_HEAD = 0.3048 * 9.80665e-3;
const KBTU_PER_H_F = 3600 / 1.8 / 1055.05585262;

/**
 * @typedef {object} Shown One kind of quantity in one system: `shown = value * factor + shift`.
 * @property {string} label
 * @property {number} factor
 * @property {number} shift
 * @property {number} places most decimal places a person gets, also where no uncertainty is known
 */

/** @type {(label: string, factor: number, places: number, shift?: number) => Shown} */
const shown = (label, factor, places, shift = 0) => ({ label, factor, shift, places });

/** @type {Record<string, Record<UnitSystem, Shown>>} */
const KINDS = {
  temperature: { ip: shown('°F', 1.8, 1, 32), si: shown('°C', 1, 1) },
  difference: { ip: shown('°F', 1.8, 1), si: shown('K', 1, 1) },
  gauge: { ip: shown('psig', 1 / PSI, 1), si: shown('kPa g', 1, 1) },
  pressure: { ip: shown('psia', 1 / PSI, 1), si: shown('kPa', 1, 1) },
  pressure_drop: { ip: shown('psi', 1 / PSI, 2), si: shown('kPa', 1, 1) },
  power: { ip: shown('kW', 1, 1), si: shown('kW', 1, 1) },
  capacity: { ip: shown('tons', 1 / TON, 0), si: shown('kW', 1, 0) },
  power_per_ton: { ip: shown('kW/ton', 1, 3), si: shown('kW/ton', 1, 3) },
  percent: { ip: shown('%', 100, 1), si: shown('%', 100, 1) },
  ratio: { ip: shown('', 1, 2), si: shown('', 1, 2) },
  head: { ip: shown('ft', 1 / FOOT_HEAD, 0), si: shown('kJ/kg', 1, 2) },
  enthalpy: { ip: shown('Btu/lb', 1 / BTU_PER_LB, 1), si: shown('kJ/kg', 1, 1) },
  vapour_flow: { ip: shown('cfm', CFM, 0), si: shown('l/s', 1000, 0) },
  water_flow: { ip: shown('gpm', GPM, 0), si: shown('l/s', 1000, 1) },
  mass_flow: { ip: shown('lb/min', LB_PER_MIN, 0), si: shown('kg/s', 1, 2) },
  conductance: { ip: shown('kBtu/h °F', KBTU_PER_H_F, 0), si: shown('kW/K', 1, 0) },
  hours_seen: { ip: shown('h', 1, 1), si: shown('h', 1, 1) },
  hours: { ip: shown('h', 1, 0), si: shown('h', 1, 0) },
  count: { ip: shown('', 1, 0), si: shown('', 1, 0) },
  rate: { ip: shown('/h', 1, 1), si: shown('/h', 1, 1) },
  seconds: { ip: shown('s', 1, 0), si: shown('s', 1, 0) },
};

/** @type {Record<string, string>} */
const BY_UNIT = {
  degC: 'temperature',
  K: 'difference',
  kPa: 'pressure',
  delta_kPa: 'pressure_drop',
  kW: 'power',
  kw_per_ton: 'power_per_ton',
  1: 'percent',
  'kJ/kg': 'enthalpy',
  'm3/s': 'water_flow',
  'kg/s': 'mass_flow',
  'kW/K': 'conductance',
  s: 'seconds',
  h: 'hours',
  count: 'count',
  per_hour: 'rate',
};

/** @type {readonly (readonly [RegExp, string])[]} */
const BY_NAME = [
  [/\.(cop|pressure_ratio|ua_ratio|hunting_index)$/, 'ratio'],
  [/^unit\.capacity$/, 'capacity'],
  [/^unit\.run_hours$/, 'hours_seen'],
  [/\.pressure$/, 'gauge'],
  [/\.excess_pressure$/, 'pressure_drop'],
  [/_head$/, 'head'],
  [/suction_volume_flow$/, 'vapour_flow'],
];

/**
 * What a metric or point is to a reader: the name decides where the unit alone does not.
 * @param {string} name
 * @param {string} unit catalogue unit
 */
export function kindOf(name, unit) {
  for (const [pattern, kind] of BY_NAME) if (pattern.test(name)) return kind;
  return BY_UNIT[unit] ?? '';
}

/**
 * Decimal places by the expanded uncertainty: one digit of it, two where it starts with 1 or 2.
 * @param {number} uncertainty as shown
 */
function placesOf(uncertainty) {
  const exponent = Math.floor(Math.log10(uncertainty) + 1e-12);
  const lead = Math.floor(uncertainty / 10 ** exponent + 1e-9);
  return -exponent + (lead <= 2 ? 1 : 0);
}

/**
 * Writes a value and its expanded uncertainty (k = 2) at the same place. The uncertainty is rounded up, so that
 * nothing claims more than it has; a kind's greatest number of places bounds both.
 * @param {string} kind of `kindOf`
 * @param {number | null} value catalogue unit
 * @param {number | null} uncertainty catalogue unit, a difference
 * @param {{ system: UnitSystem, barometer_kpa: number, unit?: string }} how
 * @returns {Written & { number: number | null }}
 */
export function write(kind, value, uncertainty, how) {
  const as = KINDS[kind]?.[how.system] ?? shown(how.unit ?? '', 1, 2);
  let { label, factor, shift } = as;
  if (kind === 'gauge') {
    shift = -how.barometer_kpa * factor;
    if (how.system === 'ip' && value !== null && value < how.barometer_kpa) {
      label = 'inHg vac';
      factor = -1 / INHG;
      shift = how.barometer_kpa / INHG;
    }
  }
  if (value === null || !Number.isFinite(value)) return { value: null, plus: null, unit: label, number: null };
  const number = value * factor + shift;
  if (uncertainty === null || !(uncertainty > 0) || !Number.isFinite(uncertainty))
    return { value: num(number, as.places), plus: null, unit: label, number };
  const spread = uncertainty * Math.abs(factor);
  const places = Math.min(as.places, placesOf(spread));
  const step = 10 ** -places;
  const up = Math.max(step, Math.ceil(spread / step - 1e-9) * step);
  return { value: num(number, places), plus: num(up, places), unit: label, number };
}

/**
 * The unit's label alone, for a row whose value is missing.
 * @param {string} kind
 * @param {UnitSystem} system
 */
export function label(kind, system) {
  return KINDS[kind]?.[system].label ?? '';
}

/**
 * Factor and shift of a kind, for axes.
 * @param {string} kind
 * @param {{ system: UnitSystem, barometer_kpa: number }} how
 */
export function scaleOf(kind, how) {
  const as = KINDS[kind]?.[how.system] ?? shown('', 1, 2);
  const shift = kind === 'gauge' ? -how.barometer_kpa * as.factor : as.shift;
  return { label: as.label, factor: as.factor, shift, places: as.places };
}
