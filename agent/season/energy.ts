/**
 * Power and capacity summed over time, with what their errors do to the sums. Sums only ever add, so that any split of
 * a period into parts gives the whole, whatever the order.
 *
 * An error that a sensor keeps (its calibration, its place) is the same in every interval: it adds as it is, and no
 * length of a season makes it smaller (JCGM 100:2008, 5.2.2, all inputs correlated by +1: the linear sum). An error
 * that is new in each interval adds by its square. What is published for an interval is one figure for both; its
 * `random_share` tells them apart, and what comes without one (minutes stored before there was any) is kept whole.
 *
 * Kept errors are taken to push power, and capacity, the same way throughout. Where another sensor matters most at
 * another load they partly do not, and their sum is then a little less than stated, never more.
 */
import { type Figure, partsOf } from '../base/metric.ts';
import { WATTS_PER_TON } from '../base/units.ts';
import { covariance } from '../metrics/totals.ts';

/** Capacity in kW of one ton of refrigeration. */
export const KW_PER_TON = WATTS_PER_TON / 1000;

/** Sums over intervals of length dt, in kW and s; uncertainties expanded (k = 2). */
export interface Energy {
  /** Length of the intervals together, s. */
  readonly s: number;
  /** Of these without a whole set of uncertainties, s. */
  readonly unsure_s: number;
  readonly power: number;
  readonly capacity: number;
  /** Kept errors: sum of u dt. */
  readonly power_kept: number;
  readonly capacity_kept: number;
  /** Sum of the covariance dt, and of the product of both uncertainties dt: their ratio is the correlation. */
  readonly covariance: number;
  readonly product: number;
  /** New errors: sums of (u dt)2, and of the covariance dt2. */
  readonly power_random: number;
  readonly capacity_random: number;
  readonly covariance_random: number;
}

export const NO_ENERGY: Energy = {
  s: 0,
  unsure_s: 0,
  power: 0,
  capacity: 0,
  power_kept: 0,
  capacity_kept: 0,
  covariance: 0,
  product: 0,
  power_random: 0,
  capacity_random: 0,
  covariance_random: 0,
};

const KEYS = Object.keys(NO_ENERGY) as (keyof Energy)[];

export function addEnergy(a: Energy, b: Energy): Energy {
  const sum: Record<string, number> = {};
  for (const key of KEYS) sum[key] = a[key] + b[key];
  return sum as unknown as Energy;
}

/** Power and capacity of one interval, kW, k = 2, over its length, s; null where one of both is missing. */
export function energyOf(figures: Readonly<Record<string, Figure>>, interval_s: number): Energy | null {
  const power = figures['unit.power'];
  const capacity = figures['unit.capacity'];
  if (power === undefined || capacity === undefined || power.value === null || capacity.value === null) return null;
  const sums = { ...NO_ENERGY, s: interval_s, power: power.value * interval_s, capacity: capacity.value * interval_s };
  const [P, Q] = [partsOf(power), partsOf(capacity)];
  if (P === null || Q === null) return { ...sums, unsure_s: interval_s };
  const ratio = figures['unit.kw_per_ton']?.random_share ?? 0;
  return {
    ...sums,
    power_kept: P.kept * interval_s,
    capacity_kept: Q.kept * interval_s,
    covariance: covariance(figures, P.kept, Q.kept, Math.sqrt(1 - ratio)) * interval_s,
    product: P.kept * Q.kept * interval_s,
    power_random: (P.random * interval_s) ** 2,
    capacity_random: (Q.random * interval_s) ** 2,
    covariance_random: covariance(figures, P.random, Q.random, Math.sqrt(ratio)) * interval_s ** 2,
  };
}

/** Of a figure's three sums: expanded, k = 2; null where some intervals give none. */
export interface EnergyUncertainty {
  readonly ton_hours: number | null;
  readonly kwh: number | null;
  readonly kw_per_ton: number | null;
}

/** What lasts all through and what is new in each interval; in quadrature they make the uncertainty. */
export interface UncertaintyParts {
  readonly kept: EnergyUncertainty;
  readonly random: EnergyUncertainty;
}

export interface EnergyFigure {
  readonly minutes: number;
  readonly ton_hours: number;
  readonly kwh: number;
  /** Energy over ton-hours, never a mean of ratios; null where no cooling was made. */
  readonly kw_per_ton: number | null;
  readonly uncertainty: EnergyUncertainty;
}

const NOT_KNOWN: EnergyUncertainty = { ton_hours: null, kwh: null, kw_per_ton: null };

export function energyFigure(sums: Energy): EnergyFigure {
  return figureOf(sums, partsOfSums(sums, [sums], 'apart'));
}

/** What machines share of their kept errors: nothing (meters of their own), or all (one make, one calibration). */
export type Sharing = 'apart' | 'common';

/** Several machines together: sums, and the ratio of the sums. */
export function plantEnergyFigure(machines: readonly Energy[], sharing: Sharing): EnergyFigure {
  const sums = machines.reduce(addEnergy, NO_ENERGY);
  return figureOf(sums, partsOfSums(sums, machines, sharing));
}

function figureOf(sums: Energy, { kept, random }: UncertaintyParts): EnergyFigure {
  const ratio = sums.capacity > 0 ? sums.power / sums.capacity : null;
  const both = (name: keyof EnergyUncertainty): number | null => {
    const [lasting, fresh] = [kept[name], random[name]];
    return lasting === null || fresh === null ? null : Math.hypot(lasting, fresh);
  };
  return {
    minutes: sums.s / 60,
    ton_hours: sums.capacity / 3600 / KW_PER_TON,
    kwh: sums.power / 3600,
    kw_per_ton: ratio === null ? null : ratio * KW_PER_TON,
    uncertainty: { ton_hours: both('ton_hours'), kwh: both('kwh'), kw_per_ton: both('kw_per_ton') },
  };
}

/** Kept errors of several machines add as they share them, new ones by their squares. */
export function uncertaintyParts(machines: readonly Energy[], sharing: Sharing): UncertaintyParts {
  return partsOfSums(machines.reduce(addEnergy, NO_ENERGY), machines, sharing);
}

function partsOfSums(sums: Energy, machines: readonly Energy[], sharing: Sharing): UncertaintyParts {
  if (sums.unsure_s > 0) return { kept: NOT_KNOWN, random: NOT_KNOWN };
  const ratio = sums.capacity > 0 ? sums.power / sums.capacity : null;
  const lasting = (of: (energy: Energy) => number): number => together(machines.map(of), sharing);
  const fresh = (of: (energy: Energy) => number): number =>
    Math.sqrt(machines.reduce((sum, energy) => sum + Math.max(0, of(energy)), 0));
  const perTon = KW_PER_TON / sums.capacity;
  return {
    kept: {
      ton_hours: lasting(({ capacity_kept }) => capacity_kept) / 3600 / KW_PER_TON,
      kwh: lasting(({ power_kept }) => power_kept) / 3600,
      kw_per_ton: ratio === null ? null : lasting((energy) => Math.sqrt(spreadOf(energy, ratio).kept)) * perTon,
    },
    random: {
      ton_hours: fresh(({ capacity_random }) => capacity_random) / 3600 / KW_PER_TON,
      kwh: fresh(({ power_random }) => power_random) / 3600,
      kw_per_ton: ratio === null ? null : fresh((energy) => spreadOf(energy, ratio).random) * perTon,
    },
  };
}

/**
 * Squares of the uncertainty of `power - ratio capacity`, (kW s)2: first order, kept errors of power and of capacity
 * each the same throughout, related to each other as in the mean of the intervals.
 */
function spreadOf(sums: Energy, ratio: number): { readonly kept: number; readonly random: number } {
  const correlation = sums.product > 0 ? sums.covariance / sums.product : 0;
  const [P, Q] = [sums.power_kept, ratio * sums.capacity_kept];
  const kept = P ** 2 + Q ** 2 - 2 * correlation * P * Q;
  const random = sums.power_random + ratio ** 2 * sums.capacity_random - 2 * ratio * sums.covariance_random;
  return { kept: Math.max(0, kept), random: Math.max(0, random) };
}

/** Uncertainties of parts of a sum. */
export function together(parts: readonly number[], sharing: Sharing): number {
  return sharing === 'apart' ? Math.hypot(...parts) : parts.reduce((sum, part) => sum + part, 0);
}
