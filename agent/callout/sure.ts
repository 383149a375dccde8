/** How sure an alarm is: its figure against its limit, in the figure's own uncertainty. */
import type { Figure } from '../base/metric.ts';

export interface Sure {
  readonly value: number | null;
  readonly limit: number | null;
  readonly unit: string | null;
  readonly side: 'above' | 'below';
  /** Expanded, k = 2. */
  readonly uncertainty: number | null;
  readonly quality: Figure['quality'];
  readonly reason: string | null;
  /** How far beyond the limit, in standard uncertainties (k = 1); null where one of them is not known. */
  readonly distance: number | null;
  readonly verdict: 'beyond measuring error' | 'within measuring error' | 'no uncertainty known' | 'no limit';
}

export interface Watched {
  readonly value: number | null;
  readonly limit: number | null;
  readonly unit: string | null;
  readonly side: 'above' | 'below';
}

/** `figure`: the watched one as the minute has it; null where nothing is watched by a limit. */
export function sureOf({ value, limit, unit, side }: Watched, figure: Figure | null): Sure {
  const uncertainty = figure?.uncertainty ?? null;
  const base = {
    value,
    limit,
    unit,
    side,
    uncertainty,
    quality: figure?.quality ?? 'good',
    reason: figure?.reason ?? null,
  };
  if (limit === null || value === null) return { ...base, distance: null, verdict: 'no limit' };
  if (uncertainty === null || uncertainty <= 0) return { ...base, distance: null, verdict: 'no uncertainty known' };
  const distance = ((side === 'above' ? 1 : -1) * (value - limit)) / (uncertainty / 2);
  return {
    ...base,
    distance: Number(distance.toPrecision(3)),
    verdict: distance > 2 ? 'beyond measuring error' : 'within measuring error',
  };
}
