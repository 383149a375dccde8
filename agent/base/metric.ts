import type { Quality } from './quality.ts';
import type { UnitName } from './units.ts';

/** Why a figure is not there, or is there and doubtful. */
export interface Missing {
  readonly missing: string;
}

export function missing(reason: string): Missing {
  return { missing: reason };
}

export function isMissing(value: number | Missing): value is Missing {
  return typeof value !== 'number';
}

/**
 * One metric: what it is called, what it means, how it is computed. The catalogue for MQTT, API, page and documents
 * is made of these.
 */
export interface MetricDefinition<Context> {
  /** `<component>.<quantity>` */
  readonly name: string;
  /** Unit on the wire, in store, API and command output. */
  readonly unit: UnitName;
  readonly meaning: string;
  /** Plain text formula in the names of the catalogue. */
  readonly formula: string;
  /** Points and metrics it is made from. */
  readonly inputs: readonly string[];
  /**
   * SI value, or why there is none. Must be smooth in its inputs where it has a value: uncertainty is propagated by
   * differences.
   */
  compute(context: Context): number | Missing;
}

/** A metric as published: catalogue unit, expanded uncertainty (k = 2). */
export interface Figure {
  readonly value: number | null;
  readonly uncertainty: number | null;
  /**
   * Share of the square of `uncertainty` that is new in each interval; the rest is the sensors' own, the same all
   * through. Left out: none, or not told apart. To four decimals.
   */
  readonly random_share?: number;
  readonly quality: Quality;
  /** Null where quality is good. */
  readonly reason: string | null;
}

/** Both parts of a figure's uncertainty, which add in quadrature, in its unit (k = 2); null where it has none. */
export function partsOf({
  uncertainty,
  random_share = 0,
}: Pick<Figure, 'uncertainty' | 'random_share'>): { readonly kept: number; readonly random: number } | null {
  if (uncertainty === null) return null;
  return { kept: uncertainty * Math.sqrt(1 - random_share), random: uncertainty * Math.sqrt(random_share) };
}
