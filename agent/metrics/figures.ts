/** Figures as they travel: values of all, uncertainty of those that have one, quality of those that are not good. */
import { type Figure, isMissing, type MetricDefinition } from '../base/metric.ts';
import type { Doubt } from '../base/quality.ts';
import { fromSi } from '../base/units.ts';

export interface SplitFigures {
  readonly values: Readonly<Record<string, number | null>>;
  readonly uncertainty: Readonly<Record<string, number>>;
  readonly quality: Readonly<Record<string, Doubt>>;
}

export function splitFigures(figures: Readonly<Record<string, Figure>>): SplitFigures {
  const values: Record<string, number | null> = {};
  const uncertainty: Record<string, number> = {};
  const quality: Record<string, Doubt> = {};
  for (const [name, figure] of Object.entries(figures)) {
    values[name] = figure.value;
    if (figure.uncertainty !== null) uncertainty[name] = figure.uncertainty;
    if (figure.quality !== 'good')
      quality[name] = { quality: figure.quality, reason: figure.reason ?? 'no reason given' };
  }
  return { values, uncertainty, quality };
}

/** Beside them for what is summed over time: the share of each uncertainty's square that is new in each interval. */
export type RandomShares = Readonly<Record<string, number>>;

export function randomShares(figures: Readonly<Record<string, Figure>>): Record<string, number> {
  const shares: Record<string, number> = {};
  for (const [name, { random_share }] of Object.entries(figures))
    if (random_share !== undefined) shares[name] = random_share;
  return shares;
}

export function joinFigures(
  { values, uncertainty, quality }: SplitFigures,
  shares: RandomShares = {},
): Record<string, Figure> {
  return Object.fromEntries(
    Object.entries(values).map(([name, value]) => [
      name,
      {
        value,
        uncertainty: uncertainty[name] ?? null,
        ...(shares[name] === undefined ? {} : { random_share: shares[name] }),
        quality: quality[name]?.quality ?? 'good',
        reason: quality[name]?.reason ?? null,
      },
    ]),
  );
}

/** Figures of definitions that carry no uncertainty, catalogue units. */
export function exactFigures<C>(definitions: readonly MetricDefinition<C>[], context: C): Record<string, Figure> {
  return Object.fromEntries(
    definitions.map(({ name, unit, compute }): [string, Figure] => {
      const value = compute(context);
      return isMissing(value)
        ? [name, { value: null, uncertainty: null, quality: 'bad', reason: value.missing }]
        : [name, { value: fromSi(value, unit), uncertainty: null, quality: 'good', reason: null }];
    }),
  );
}

/**
 * The figure to six significant digits, its uncertainty to three: far below any uncertainty of the trade, and a third
 * of the bytes on disk and on the wire.
 */
export function roundFigure<F extends Pick<Figure, 'value' | 'uncertainty'>>(figure: F): F {
  return { ...figure, value: digits(figure.value, 6), uncertainty: digits(figure.uncertainty, 3) };
}

function digits(value: number | null, count: number): number | null {
  return value === null ? null : Number(value.toPrecision(count));
}
