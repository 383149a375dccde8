/**
 * Where a machine ran and how well, by load and by the lift that was asked of it: entering condenser water less leaving
 * chilled water. The refrigerant's own lift grows with dirt on the tubes and would put the same duty into another bin.
 */
import {
  addCompared,
  againstFigure,
  type Compared,
  comparedVariance,
  compareHour,
  NOTHING_COMPARED,
} from './against.ts';
import { KW_PER_TON } from './energy.ts';
import type { Reference } from './reference.ts';
import type { SteadyMeans } from './steady.ts';

/** Ends of the bins: of rated capacity, and K. What lies beyond is in the first and the last. */
export const LOAD_EDGES = [0.45, 0.6, 0.75, 0.9] as const;
export const LIFT_EDGES_K = [12, 16, 20, 24] as const;

export interface LoadLiftBin {
  /** Number of the bin, from 0. */
  readonly load: number;
  readonly lift: number;
  readonly hours: number;
  readonly kw_per_ton: number;
  /** Against the baseline, 1; null where nothing could be compared. */
  readonly deviation: number | null;
  /** Expanded, k = 2. */
  readonly uncertainty: number | null;
}

interface Binned {
  readonly hours: number;
  readonly kwh: number;
  readonly cooling: number;
  readonly compared: Compared;
}

/** Steady hours alone; bins in which there were any, by load, then lift. */
export function loadLiftBins(
  hours: readonly SteadyMeans[],
  { reference, rated_capacity }: { readonly reference: Reference | null; readonly rated_capacity: number },
): LoadLiftBin[] {
  const bins = new Map<number, Binned>();
  for (const hour of hours) {
    const load = binOf(hour.capacity / rated_capacity, LOAD_EDGES);
    const key = load * 100 + binOf(hour.condenser - hour.chilled, LIFT_EDGES_K);
    const before = bins.get(key) ?? { hours: 0, kwh: 0, cooling: 0, compared: NOTHING_COMPARED };
    bins.set(key, {
      hours: before.hours + hour.hours,
      kwh: before.kwh + hour.power * hour.hours,
      cooling: before.cooling + hour.capacity * hour.hours,
      compared: reference === null ? before.compared : addCompared(before.compared, compareHour(reference, hour)),
    });
  }
  return [...bins]
    .sort(([a], [b]) => a - b)
    .map(([key, bin]) => {
      const variance = reference === null ? 0 : comparedVariance(reference, bin.compared);
      const { deviation, uncertainty } = againstFigure(bin.compared, variance);
      return {
        load: Math.floor(key / 100),
        lift: key % 100,
        hours: bin.hours,
        kw_per_ton: (bin.kwh / bin.cooling) * KW_PER_TON,
        deviation,
        uncertainty: uncertainty.deviation,
      };
    });
}

function binOf(value: number, edges: readonly number[]): number {
  return edges.filter((edge) => value >= edge).length;
}
