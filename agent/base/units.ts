/**
 * Units and every conversion of the project. Inside everything is SI (K, Pa absolute, kg/s, W, J/kg, m3/s, fractions
 * of 1); wire, store, API and command output use the catalogue's units (design: degC, K, kPa absolute, kg/s, kW,
 * kJ/kg, 1). Factors are exact where the definition is: lb 0.45359237 kg, in 0.0254 m, g_n 9.80665 m/s2 (NIST SP
 * 811); ton of refrigeration 12,000 Btu(IT)/h = 3516.853 W; US gallon 231 in3; inHg at 0 degC 3386.389 Pa (NIST SP
 * 811).
 */
import { assert } from './result.ts';

export type Dimension =
  | 'temperature'
  | 'temperature_difference'
  | 'pressure'
  | 'pressure_difference'
  | 'mass_flow'
  | 'volume_flow'
  | 'power'
  | 'energy'
  | 'specific_energy'
  | 'specific_entropy'
  | 'density'
  | 'fraction'
  | 'ratio'
  | 'time'
  | 'length'
  | 'area'
  | 'current'
  | 'voltage'
  | 'speed'
  | 'conductance'
  | 'count'
  | 'frequency'
  | 'specific_power'
  | 'state';

export interface Unit {
  readonly dimension: Dimension;
  /** SI value = (value + shift) * factor, for gauge units plus the reference pressure. */
  readonly factor: number;
  readonly shift?: number;
  /** A pressure counted from its reference (atmosphere); vacuum units count downwards by a negative factor. */
  readonly gauge?: true;
  /** Written with figures for people. */
  readonly label: string;
}

const PSI = (0.45359237 * 9.80665) / 0.0254 ** 2;
const GALLON = 231 * 0.0254 ** 3;
const BTU = 1055.05585262;
export const WATTS_PER_TON = (12000 * BTU) / 3600;
export const STANDARD_ATMOSPHERE = 101325;

export const UNITS = {
  degC: { dimension: 'temperature', factor: 1, shift: 273.15, label: '°C' },
  degF: { dimension: 'temperature', factor: 1 / 1.8, shift: 459.67, label: '°F' },
  kelvin: { dimension: 'temperature', factor: 1, label: 'K' },
  K: { dimension: 'temperature_difference', factor: 1, label: 'K' },
  delta_degF: { dimension: 'temperature_difference', factor: 1 / 1.8, label: '°F' },
  Pa: { dimension: 'pressure', factor: 1, label: 'Pa' },
  kPa: { dimension: 'pressure', factor: 1e3, label: 'kPa' },
  bar: { dimension: 'pressure', factor: 1e5, label: 'bar' },
  MPa: { dimension: 'pressure', factor: 1e6, label: 'MPa' },
  psia: { dimension: 'pressure', factor: PSI, label: 'psia' },
  inHg_abs: { dimension: 'pressure', factor: 3386.389, label: 'inHg abs' },
  kPag: { dimension: 'pressure', factor: 1e3, gauge: true, label: 'kPa g' },
  barg: { dimension: 'pressure', factor: 1e5, gauge: true, label: 'bar g' },
  psig: { dimension: 'pressure', factor: PSI, gauge: true, label: 'psig' },
  inHg_vac: { dimension: 'pressure', factor: -3386.389, gauge: true, label: 'inHg vac' },
  delta_kPa: { dimension: 'pressure_difference', factor: 1e3, label: 'kPa' },
  delta_bar: { dimension: 'pressure_difference', factor: 1e5, label: 'bar' },
  delta_psi: { dimension: 'pressure_difference', factor: PSI, label: 'psi' },
  ftH2O: { dimension: 'pressure_difference', factor: 2989.067, label: 'ft water' },
  'kg/s': { dimension: 'mass_flow', factor: 1, label: 'kg/s' },
  'lb/min': { dimension: 'mass_flow', factor: 0.45359237 / 60, label: 'lb/min' },
  'm3/s': { dimension: 'volume_flow', factor: 1, label: 'm³/s' },
  'm3/h': { dimension: 'volume_flow', factor: 1 / 3600, label: 'm³/h' },
  'l/s': { dimension: 'volume_flow', factor: 1e-3, label: 'l/s' },
  gpm: { dimension: 'volume_flow', factor: GALLON / 60, label: 'gpm' },
  cfm: { dimension: 'volume_flow', factor: 0.3048 ** 3 / 60, label: 'cfm' },
  W: { dimension: 'power', factor: 1, label: 'W' },
  kW: { dimension: 'power', factor: 1e3, label: 'kW' },
  MW: { dimension: 'power', factor: 1e6, label: 'MW' },
  ton: { dimension: 'power', factor: WATTS_PER_TON, label: 'tons' },
  hp: { dimension: 'power', factor: 550 * 0.3048 * 0.45359237 * 9.80665, label: 'hp' },
  kWh: { dimension: 'energy', factor: 3.6e6, label: 'kWh' },
  'J/kg': { dimension: 'specific_energy', factor: 1, label: 'J/kg' },
  'kJ/kg': { dimension: 'specific_energy', factor: 1e3, label: 'kJ/kg' },
  'Btu/lb': { dimension: 'specific_energy', factor: 2326, label: 'Btu/lb' },
  ft_head: { dimension: 'specific_energy', factor: 0.3048 * 9.80665, label: 'ft' },
  'J/(kg K)': { dimension: 'specific_entropy', factor: 1, label: 'J/(kg K)' },
  'kJ/(kg K)': { dimension: 'specific_entropy', factor: 1e3, label: 'kJ/(kg K)' },
  'kg/m3': { dimension: 'density', factor: 1, label: 'kg/m³' },
  '1': { dimension: 'fraction', factor: 1, label: '' },
  '%': { dimension: 'fraction', factor: 0.01, label: '%' },
  s: { dimension: 'time', factor: 1, label: 's' },
  min: { dimension: 'time', factor: 60, label: 'min' },
  h: { dimension: 'time', factor: 3600, label: 'h' },
  m: { dimension: 'length', factor: 1, label: 'm' },
  mm: { dimension: 'length', factor: 1e-3, label: 'mm' },
  ft: { dimension: 'length', factor: 0.3048, label: 'ft' },
  in: { dimension: 'length', factor: 0.0254, label: 'in' },
  m2: { dimension: 'area', factor: 1, label: 'm²' },
  ft2: { dimension: 'area', factor: 0.3048 ** 2, label: 'ft²' },
  A: { dimension: 'current', factor: 1, label: 'A' },
  V: { dimension: 'voltage', factor: 1, label: 'V' },
  rpm: { dimension: 'speed', factor: 1 / 60, label: 'rpm' },
  Hz: { dimension: 'speed', factor: 1, label: 'Hz' },
  'W/K': { dimension: 'conductance', factor: 1, label: 'W/K' },
  'kW/K': { dimension: 'conductance', factor: 1e3, label: 'kW/K' },
  count: { dimension: 'count', factor: 1, label: '' },
  per_hour: { dimension: 'frequency', factor: 1 / 3600, label: '/h' },
  kw_per_ton: { dimension: 'specific_power', factor: 1e3 / WATTS_PER_TON, label: 'kW/ton' },
  state: { dimension: 'state', factor: 1, label: '' },
} as const satisfies Record<string, Unit>;

export type UnitName = keyof typeof UNITS;

export function isUnit(name: string): name is UnitName {
  return Object.hasOwn(UNITS, name);
}

export function unitOf(name: UnitName): Unit {
  return UNITS[name];
}

/**
 * A value in `unit` to SI. Gauge units need `reference`, the absolute pressure (Pa) that their zero stands for;
 * without it: assertion.
 */
export function toSi(value: number, unit: UnitName, reference?: number): number {
  const { factor, shift = 0, gauge = false } = unitOf(unit);
  if (!gauge) return (value + shift) * factor;
  assert(reference !== undefined, `${unit} needs the pressure its zero stands for`);
  return value * factor + reference;
}

/** An SI value to `unit`; gauge units as in `toSi`. */
export function fromSi(value: number, unit: UnitName, reference?: number): number {
  const { factor, shift = 0, gauge = false } = unitOf(unit);
  if (!gauge) return value / factor - shift;
  assert(reference !== undefined, `${unit} needs the pressure its zero stands for`);
  return (value - reference) / factor;
}

/**
 * A difference (spread, uncertainty, deadband) in `unit` to SI: no shift, no reference, never negative by the unit's
 * sign.
 */
export function differenceToSi(value: number, unit: UnitName): number {
  return value * Math.abs(unitOf(unit).factor);
}

/** An SI difference to `unit`. */
export function differenceFromSi(value: number, unit: UnitName): number {
  return value / Math.abs(unitOf(unit).factor);
}
