/**
 * Units as exports write them: in brackets behind a column's name, in a line of their own, or behind the number. A word
 * that does not say what a pressure counts from names no unit: gauge or absolute is for a person to say.
 */
import { type Dimension, isUnit, type UnitName, unitOf } from '../base/units.ts';

/** Spellings in lower case without blanks and dots. Common practice, no source. */
const SPELLINGS: Readonly<Record<string, readonly UnitName[]>> = {
  '°c': ['degC', 'K'],
  c: ['degC', 'K'],
  degc: ['degC', 'K'],
  '°f': ['degF', 'delta_degF'],
  f: ['degF', 'delta_degF'],
  degf: ['degF', 'delta_degF'],
  k: ['kelvin', 'K'],
  psig: ['psig'],
  'psi(g)': ['psig'],
  psia: ['psia'],
  'psi(a)': ['psia'],
  psi: ['delta_psi'],
  psid: ['delta_psi'],
  kpaa: ['kPa'],
  kpaabs: ['kPa'],
  'kpa(a)': ['kPa'],
  kpag: ['kPag'],
  'kpa(g)': ['kPag'],
  kpa: ['delta_kPa'],
  bara: ['bar'],
  'bar(a)': ['bar'],
  barg: ['barg'],
  'bar(g)': ['barg'],
  bar: ['delta_bar'],
  inhgvac: ['inHg_vac'],
  inhgabs: ['inHg_abs'],
  inhga: ['inHg_abs'],
  ft: ['ftH2O'],
  fth2o: ['ftH2O'],
  ftwg: ['ftH2O'],
  gpm: ['gpm'],
  usgpm: ['gpm'],
  'l/s': ['l/s'],
  lps: ['l/s'],
  'm3/h': ['m3/h'],
  'm³/h': ['m3/h'],
  cmh: ['m3/h'],
  'm3/s': ['m3/s'],
  'm³/s': ['m3/s'],
  w: ['W'],
  kw: ['kW'],
  mw: ['MW'],
  ton: ['ton'],
  tons: ['ton'],
  tr: ['ton'],
  hp: ['hp'],
  a: ['A'],
  amp: ['A'],
  amps: ['A'],
  v: ['V'],
  volt: ['V'],
  volts: ['V'],
  '%': ['%'],
  pct: ['%'],
  percent: ['%'],
  rpm: ['rpm'],
  hz: ['Hz'],
  s: ['s'],
  sec: ['s'],
  min: ['min'],
  h: ['h'],
  hr: ['h'],
  hrs: ['h'],
  hours: ['h'],
};

/** The project's unit of a spelling, for a quantity of a dimension; null where it is none or leaves a choice open. */
export function unitOfWord(word: string, dimension: Dimension): UnitName | null {
  const text = word.trim();
  if (isUnit(text) && unitOf(text).dimension === dimension && !isOpen(text)) return text;
  const spelling = text.toLowerCase().replaceAll(/[\s.]+/g, '');
  return SPELLINGS[spelling]?.find((unit) => unitOf(unit).dimension === dimension) ?? null;
}

/** `kPa`, `bar` and the like are absolute in a site file; in an export nobody knows. */
function isOpen(unit: UnitName): boolean {
  return unit === 'kPa' || unit === 'bar' || unit === 'MPa' || unit === 'Pa';
}

/** What stands in the last brackets of a column's name: `CH1 Evap Press (psig)`; null where nothing does. */
export function bracketed(header: string): string | null {
  return /[[(]([^()[\]]*(?:\([ag]\))?)[\])]\s*$/i.exec(header)?.[1]?.trim() ?? null;
}
