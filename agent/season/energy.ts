/**
 * Power and capacity summed over time, with what their errors do to the sums. Sums only ever add, so that any split of
 * a period into parts gives the whole, whatever the order.
 *
 * An error that a sensor keeps (its calibration, its place) is the same in every interval: it adds as it is, and no
 * length of a season makes it smaller. An error that is new in each interval adds by its square. What is published
 * for an interval is one figure for both, and nearly all of it is the sensors' own (the scatter of readings within an
 * interval enters by the mean of many): the whole is taken as kept, which errs on the safe side. `random_share` says
 * otherwise where it is known better.
 */
import type { Figure } from '../base/metric.ts';
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

/** Power and capacity of one interval, kW, k = 2; null where one of both is missing. */
export function energyOf(
  figures: Readonly<Record<string, Figure>>,
  { interval_s, random_share = 0 }: { readonly interval_s: number; readonly random_share?: number },
): Energy | null {
  const power = figures['unit.power'];
  const capacity = figures['unit.capacity'];
  if (power === undefined || capacity === undefined || power.value === null || capacity.value === null) return null;
  const sums = { ...NO_ENERGY, s: interval_s, power: power.value * interval_s, capacity: capacity.value * interval_s };
  if (power.uncertainty === null || capacity.uncertainty === null) return { ...sums, unsure_s: interval_s };
  const [uP, uQ] = [power.uncertainty, capacity.uncertainty];
  const both = covariance(figures, uP, uQ);
  const kept = 1 - random_share;
  const random = random_share * interval_s ** 2;
  return {
    ...sums,
    power_kept: Math.sqrt(kept) * uP * interval_s,
    capacity_kept: Math.sqrt(kept) * uQ * interval_s,
    covariance: kept * both * interval_s,
    product: kept * uP * uQ * interval_s,
    power_random: random * uP ** 2,
    capacity_random: random * uQ ** 2,
    covariance_random: random * both,
  };
}

export interface EnergyFigure {
  readonly minutes: number;
  readonly ton_hours: number;
  readonly kwh: number;
  /** Energy over ton-hours, never a mean of ratios; null where no cooling was made. */
  readonly kw_per_ton: number | null;
  /** Expanded, k = 2; null where some intervals give none. */
  readonly uncertainty: {
    readonly ton_hours: number | null;
    readonly kwh: number | null;
    readonly kw_per_ton: number | null;
  };
}

const NOT_KNOWN = { ton_hours: null, kwh: null, kw_per_ton: null };

export function energyFigure(sums: Energy): EnergyFigure {
  const kwh = sums.power / 3600;
  const ton_hours = sums.capacity / 3600 / KW_PER_TON;
  const ratio = sums.capacity > 0 ? sums.power / sums.capacity : null;
  return {
    minutes: sums.s / 60,
    ton_hours,
    kwh,
    kw_per_ton: ratio === null ? null : ratio * KW_PER_TON,
    uncertainty:
      sums.unsure_s > 0
        ? NOT_KNOWN
        : {
            ton_hours: Math.hypot(sums.capacity_kept, Math.sqrt(sums.capacity_random)) / 3600 / KW_PER_TON,
            kwh: Math.hypot(sums.power_kept, Math.sqrt(sums.power_random)) / 3600,
            kw_per_ton: ratio === null ? null : ratioUncertainty(sums, ratio) * KW_PER_TON,
          },
  };
}

/**
 * Of power over capacity, kW/kW: first order, kept errors of power and of capacity each the same throughout, related
 * to each other as in the mean of the intervals.
 */
function ratioUncertainty(sums: Energy, ratio: number): number {
  const { kept, random } = spreadOf(sums, ratio);
  return Math.sqrt(kept + random) / sums.capacity;
}

/** Squares of the uncertainty of `power - ratio capacity`, (kW s)2. */
function spreadOf(sums: Energy, ratio: number): { readonly kept: number; readonly random: number } {
  const correlation = sums.product > 0 ? sums.covariance / sums.product : 0;
  const [P, Q] = [sums.power_kept, ratio * sums.capacity_kept];
  const kept = P ** 2 + Q ** 2 - 2 * correlation * P * Q;
  const random = sums.power_random + ratio ** 2 * sums.capacity_random - 2 * ratio * sums.covariance_random;
  return { kept: Math.max(0, kept), random: Math.max(0, random) };
}

/** What machines share of their kept errors: nothing (meters of their own), or all (one make, one calibration). */
export type Sharing = 'apart' | 'common';

/** Several machines together: sums, and the ratio of the sums. Errors within a machine are those of `energyFigure`. */
export function plantEnergyFigure(machines: readonly Energy[], sharing: Sharing): EnergyFigure {
  const sums = machines.reduce(addEnergy, NO_ENERGY);
  const plain = energyFigure(sums);
  if (sums.unsure_s > 0) return plain;
  const ratio = sums.capacity > 0 ? sums.power / sums.capacity : null;
  const joined = (of: (energy: Energy) => number, random: (energy: Energy) => number): number =>
    Math.sqrt(
      together(machines.map(of), sharing) ** 2 + machines.reduce((sum, energy) => sum + Math.max(0, random(energy)), 0),
    );
  return {
    ...plain,
    uncertainty: {
      ton_hours:
        joined(
          (energy) => energy.capacity_kept,
          (energy) => energy.capacity_random,
        ) /
        3600 /
        KW_PER_TON,
      kwh:
        joined(
          (energy) => energy.power_kept,
          (energy) => energy.power_random,
        ) / 3600,
      kw_per_ton:
        ratio === null
          ? null
          : (joined(
              (energy) => Math.sqrt(spreadOf(energy, ratio).kept),
              (energy) => spreadOf(energy, ratio).random,
            ) /
              sums.capacity) *
            KW_PER_TON,
    },
  };
}

/** Uncertainties of parts of a sum. */
export function together(parts: readonly number[], sharing: Sharing): number {
  return sharing === 'apart' ? Math.hypot(...parts) : parts.reduce((sum, part) => sum + part, 0);
}
