/**
 * What a machine took against what it would have taken as declared, at the same load and the same water temperatures:
 * energies of whole steady hours, which only add. Hours beyond the fitted range are counted and not compared.
 */
import {
  addExpected,
  type ExpectedSums,
  expected,
  expectedOf,
  NOTHING_EXPECTED,
  varianceOf,
} from '../baseline/expect.ts';
import { KW_PER_TON } from './energy.ts';
import { holding, type Reference } from './reference.ts';
import { MODES, type Mode, type SteadyMeans } from './steady.ts';

export interface Compared {
  /** Energies by the level of the time; slopes and lengths by the way the economizer stood. */
  readonly modes: Readonly<Partial<Record<Mode, ExpectedSums>>>;
  /** By epoch: energy of the declared machine, kWh. An error of its level is the same all through. */
  readonly epochs: Readonly<Record<string, number>>;
  /** kWh of cooling in the hours compared. */
  readonly cooling: number;
  /** h */
  readonly outside: number;
  readonly without: number;
}

export const NOTHING_COMPARED: Compared = { modes: {}, epochs: {}, cooling: 0, outside: 0, without: 0 };

export function addCompared(a: Compared, b: Compared): Compared {
  const modes: Partial<Record<Mode, ExpectedSums>> = {};
  for (const mode of MODES) {
    const [left, right] = [a.modes[mode], b.modes[mode]];
    if (left !== undefined || right !== undefined)
      modes[mode] = addExpected(left ?? NOTHING_EXPECTED, right ?? NOTHING_EXPECTED);
  }
  const epochs: Record<string, number> = { ...a.epochs };
  for (const [key, energy] of Object.entries(b.epochs)) epochs[key] = (epochs[key] ?? 0) + energy;
  return {
    modes,
    epochs,
    cooling: a.cooling + b.cooling,
    outside: a.outside + b.outside,
    without: a.without + b.without,
  };
}

/** One hour. */
export function compareHour(reference: Reference, hour: SteadyMeans): Compared {
  const found = holding(reference, hour);
  if (found === null) return { ...NOTHING_COMPARED, without: hour.hours };
  const by = expected(found.machine, hour);
  if (by === null) return { ...NOTHING_COMPARED, outside: hour.hours };
  const { level } = found.epoch;
  const levelled = { power: level * by.power, slope: by.slope.map((value) => level * value) };
  return {
    modes: { [hour.mode]: expectedOf(levelled, { hours: hour.hours, power: hour.power }) },
    epochs: { [found.index]: by.power * hour.hours },
    cooling: hour.capacity * hour.hours,
    outside: 0,
    without: 0,
  };
}

export function compareHours(reference: Reference, hours: readonly SteadyMeans[]): Compared {
  return hours.reduce((all, hour) => addCompared(all, compareHour(reference, hour)), NOTHING_COMPARED);
}

export interface AgainstFigure {
  /** Hours compared, beyond the fitted range, and without a baseline for the way they ran. */
  readonly hours: number;
  readonly hours_outside: number;
  readonly hours_without: number;
  /** Of the hours compared, kWh. */
  readonly kwh: number;
  readonly kwh_expected: number;
  readonly kw_per_ton: number | null;
  readonly kw_per_ton_expected: number | null;
  /** Measured over expected less 1; null where nothing was compared. */
  readonly deviation: number | null;
  /** Measured less expected, kWh. */
  readonly kwh_more: number;
  /** Expanded, k = 2, of the model and the level: errors that the sensors keep cancel to first order. */
  readonly uncertainty: { readonly deviation: number | null; readonly kwh_more: number | null };
}

/** Variance of measured less expected, kWh2, k = 1. */
export function comparedVariance(reference: Reference, compared: Compared): number {
  const models = MODES.reduce((sum, mode) => {
    const [sums, machine] = [compared.modes[mode], reference.fits[mode]?.machine];
    return sums === undefined || machine == null ? sum : sum + varianceOf(machine, sums);
  }, 0);
  const levels = Object.entries(compared.epochs).reduce(
    (sum, [index, energy]) => sum + (energy * (reference.epochs[Number(index)]?.level_deviation ?? 0)) ** 2,
    0,
  );
  return models + levels;
}

export function againstFigure(compared: Compared, variance: number): AgainstFigure {
  const all = MODES.reduce((sum, mode) => addTotals(sum, compared.modes[mode]), { hours: 0, measured: 0, expected: 0 });
  const tons = compared.cooling / KW_PER_TON;
  const some = all.expected > 0;
  const spread = 2 * Math.sqrt(variance);
  return {
    hours: all.hours,
    hours_outside: compared.outside,
    hours_without: compared.without,
    kwh: all.measured,
    kwh_expected: all.expected,
    kw_per_ton: tons > 0 ? all.measured / tons : null,
    kw_per_ton_expected: tons > 0 ? all.expected / tons : null,
    deviation: some ? all.measured / all.expected - 1 : null,
    kwh_more: all.measured - all.expected,
    uncertainty: { deviation: some ? spread / all.expected : null, kwh_more: some ? spread : null },
  };
}

type Totals = Pick<ExpectedSums, 'hours' | 'measured' | 'expected'>;

function addTotals(a: Totals, b: Totals | undefined): Totals {
  if (b === undefined) return a;
  return { hours: a.hours + b.hours, measured: a.measured + b.measured, expected: a.expected + b.expected };
}
