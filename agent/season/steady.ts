/**
 * What an hour of a steady machine looked like, for its baseline: means by the way the economizer stood, as sums that
 * add like all others.
 */

import { LIMITS } from '../base/limits.ts';
import type { Figure } from '../base/metric.ts';
import type { Asked, Observation } from '../baseline/models.ts';

/** How the economizer stood: each way is a machine of its own. */
export const MODES = ['on', 'off', 'none'] as const;
export type Mode = (typeof MODES)[number];

/** Value times s, and the s in which it was there. */
export interface Mean {
  readonly s: number;
  readonly sum: number;
}

export interface Steady {
  readonly s: number;
  /** kW s, electrical and of cooling. */
  readonly power: number;
  readonly capacity: number;
  /** degC s: leaving chilled water, entering condenser water. */
  readonly chilled: number;
  readonly condenser: number;
  /** Further figures, catalogue units, by name. */
  readonly more: Readonly<Record<string, Mean>>;
}

export type SteadySums = Readonly<Partial<Record<Mode, Steady>>>;

/** Figures and points whose means are kept beside: what a clean heat exchanger is compared by. */
export const STEADY_FIGURES = [
  'evaporator.ua',
  'condenser.ua',
  'condenser.subcooling',
  'condenser.heat_rejected',
] as const;
export const STEADY_POINTS = ['chilled_water.flow', 'condenser_water.flow'] as const;

export const CHILLED = 'chilled_water.leaving_temperature';
export const CONDENSER = 'condenser_water.entering_temperature';

/** The points of a stored record that are wanted here; null where there was no reading. */
export function steadyPoints(points: unknown): Record<string, number | null> {
  if (typeof points !== 'object' || points === null) return {};
  return Object.fromEntries(
    [CHILLED, CONDENSER, ...STEADY_POINTS].map((name) => {
      const value = (points as Record<string, unknown>)[name];
      return [name, typeof value === 'number' ? value : null];
    }),
  );
}

/** Of an interval with power and capacity. Nothing where the machine moves, or where it is not known what was asked. */
export function steadyOf({
  state,
  economizer,
  interval_s: s,
  figures,
  points,
}: {
  readonly state: string;
  readonly economizer: string;
  readonly interval_s: number;
  readonly figures: Readonly<Record<string, Figure>>;
  readonly points: Readonly<Record<string, number | null>>;
}): SteadySums {
  const [chilled, condenser] = [points[CHILLED] ?? null, points[CONDENSER] ?? null];
  const mode = MODES.find((each) => each === economizer);
  if (state !== 'steady' || mode === undefined || chilled === null || condenser === null) return {};
  const beside: [string, number | null][] = [
    ...STEADY_FIGURES.map((name): [string, number | null] => [name, figures[name]?.value ?? null]),
    ...STEADY_POINTS.map((name): [string, number | null] => [name, points[name] ?? null]),
  ];
  const more = beside.flatMap(([name, value]): [string, Mean][] =>
    value === null ? [] : [[name, { s, sum: value * s }]],
  );
  return {
    [mode]: {
      s,
      power: (figures['unit.power']?.value ?? 0) * s,
      capacity: (figures['unit.capacity']?.value ?? 0) * s,
      chilled: chilled * s,
      condenser: condenser * s,
      more: Object.fromEntries(more),
    },
  };
}

export function addSteady(a: Steady, b: Steady): Steady {
  const more: Record<string, Mean> = { ...a.more };
  for (const [name, mean] of Object.entries(b.more)) {
    const before = more[name];
    more[name] = before === undefined ? mean : { s: before.s + mean.s, sum: before.sum + mean.sum };
  }
  return {
    s: a.s + b.s,
    power: a.power + b.power,
    capacity: a.capacity + b.capacity,
    chilled: a.chilled + b.chilled,
    condenser: a.condenser + b.condenser,
    more,
  };
}

/** An hour by UTC, in which the machine may have run either way. */
export interface SteadyHour {
  /** ms since the epoch. */
  readonly start: number;
  readonly steady: SteadySums;
}

/** One way of an hour, long enough to stand for it. */
export interface SteadyMeans extends Observation {
  readonly mode: Mode;
  /** h */
  readonly hours: number;
  /** Means of what was kept beside, catalogue units. */
  readonly more: Readonly<Record<string, number>>;
}

const KELVIN = 273.15;

/** Hours with at least so many steady minutes in one way, in order. */
export function steadyMeans(hours: readonly SteadyHour[]): SteadyMeans[] {
  return hours.flatMap(({ start, steady }) =>
    MODES.flatMap((mode): SteadyMeans[] => {
      const sums = steady[mode];
      if (sums === undefined || sums.s < 60 * LIMITS.baseline_minutes_min) return [];
      const means = meansOf(sums);
      return means === null ? [] : [{ time: start, mode, hours: sums.s / 3600, ...means }];
    }),
  );
}

function meansOf({
  s,
  power,
  capacity,
  chilled,
  condenser,
  more,
}: Steady): (Asked & { readonly power: number; readonly more: Record<string, number> }) | null {
  if (!(capacity > 0 && power > 0)) return null;
  return {
    power: power / s,
    capacity: capacity / s,
    chilled: chilled / s + KELVIN,
    condenser: condenser / s + KELVIN,
    more: Object.fromEntries(
      // A mean of a part of the hour is none of the hour.
      Object.entries(more).flatMap(([name, mean]) => (mean.s < s ? [] : [[name, mean.sum / mean.s]])),
    ),
  };
}
