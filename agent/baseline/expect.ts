/** What the clean machine would take: for one hour with its prediction interval, and for many as sums that add. */
import { type CleanMachine, fewer, type Range } from './fit.ts';
import { quadratic } from './least-squares.ts';
import { type Asked, modelNamed } from './models.ts';

export interface Expected {
  /** kW */
  readonly power: number;
  /** Of the model at this place, expanded (k = 2), kW: where the clean machine's mean lies. */
  readonly uncertainty: number;
  /** Prediction interval of one hour, k = 2, kW: uncertainty of the model and scatter of an hour together. */
  readonly interval: number;
  readonly slope: readonly number[];
}

/** Share of its width by which a fitted range may be left (common practice, no source). */
const MARGIN = 0.05;

export function within({ capacity, lift }: Range, asked: Asked): boolean {
  return inside(capacity, asked.capacity) && inside(lift, asked.condenser - asked.chilled);
}

function inside([least, most]: readonly [number, number], value: number): boolean {
  const margin = MARGIN * (most - least);
  return value >= least - margin && value <= most + margin;
}

/** Null beyond the range of the fit. */
export function expected(machine: CleanMachine, asked: Asked): Expected | null {
  if (!within(machine.range, asked)) return null;
  const found = modelNamed(machine.model).predict(machine.parameters, asked);
  if (found === null || !(found.power > 0)) return null;
  const mean = quadratic(machine.covariance, found.slope);
  return {
    power: found.power,
    slope: found.slope,
    uncertainty: 2 * Math.sqrt(mean),
    interval: 2 * Math.sqrt(mean + machine.scatter ** 2),
  };
}

/** Energies of compared hours, kWh; they add. */
export interface ExpectedSums {
  readonly hours: number;
  readonly measured: number;
  readonly expected: number;
  /** Sum of the slopes times hours: errors of the parameters are the same in every hour. */
  readonly slope: readonly number[];
  /** Sum of squared lengths, h2: scatter is new in every hour. */
  readonly square: number;
}

export const NOTHING_EXPECTED: ExpectedSums = { hours: 0, measured: 0, expected: 0, slope: [], square: 0 };

export function addExpected(a: ExpectedSums, b: ExpectedSums): ExpectedSums {
  const length = Math.max(a.slope.length, b.slope.length);
  return {
    hours: a.hours + b.hours,
    measured: a.measured + b.measured,
    expected: a.expected + b.expected,
    slope: Array.from({ length }, (_, index) => (a.slope[index] ?? 0) + (b.slope[index] ?? 0)),
    square: a.square + b.square,
  };
}

/** `hours`: length of the stretch; `power`: what it took on average, kW. */
export function expectedOf(
  { power: mean, slope }: Pick<Expected, 'power' | 'slope'>,
  { hours, power }: { readonly hours: number; readonly power: number },
): ExpectedSums {
  return {
    hours,
    measured: power * hours,
    expected: mean * hours,
    slope: slope.map((value) => value * hours),
    square: hours ** 2,
  };
}

/**
 * Variance of measured less expected energy, kWh2, k = 1. The errors that sensors keep are in the fitted hours as in
 * these, and cancel to first order; a sensor that has drifted since is not in here: it looks like the machine.
 */
export function varianceOf(machine: CleanMachine, sums: ExpectedSums): number {
  if (sums.hours === 0) return 0;
  const scatter = sums.square * machine.scatter ** 2 * fewer(machine.autocorrelation);
  return quadratic(machine.covariance, sums.slope) + scatter;
}
