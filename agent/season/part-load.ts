/**
 * One figure for a whole range of loads, by the weights and the harmonic form of AHRI 550/590 (weights 0.01, 0.42,
 * 0.45 and 0.12 at 100, 75, 50 and 25 % load). The standard rates a clean machine in a laboratory at set condenser
 * water temperatures; here the loads and the water are those that occurred: a field value, not a certified rating.
 */
import { type EnergyFigure, energyFigure, uncertaintyParts } from './energy.ts';
import { RATED_LOADS, type Sums } from './sums.ts';

export const PART_LOAD_NOTE = 'field value, not a certified rating';

export const PART_LOAD_WEIGHTS: Readonly<Record<(typeof RATED_LOADS)[number], number>> = {
  100: 0.01,
  75: 0.42,
  50: 0.45,
  25: 0.12,
};

/** Least time near each of the loads for a figure, min (common practice, no source). */
export const PART_LOAD_MINUTES_MIN = 60;

export interface PartLoadBand extends EnergyFigure {
  /** Percent of rated capacity; intervals to 12.5 % below and above it are counted. */
  readonly load: number;
  /** Mean of what was counted, 1. */
  readonly mean_load: number | null;
}

export interface PartLoad {
  readonly kw_per_ton: number | null;
  /** Expanded, k = 2: errors that last taken as one and the same in all bands. */
  readonly uncertainty: number | null;
  readonly note: typeof PART_LOAD_NOTE;
  /** Why there is none; null where there is. */
  readonly reason: string | null;
  readonly bands: readonly PartLoadBand[];
}

/**
 * Weighted value of four figures in power per capacity, ordered 100, 75, 50, 25 %: the reciprocal of the weighted sum
 * of reciprocals. The plain weighted sum holds for COP, not here.
 */
export function weightedPartLoad(perTon: readonly [number, number, number, number]): number {
  return 1 / RATED_LOADS.reduce((sum, load, index) => sum + PART_LOAD_WEIGHTS[load] / (perTon[index] as number), 0);
}

export function partLoad(sums: Sums): PartLoad {
  const bands = RATED_LOADS.map((load): PartLoadBand => {
    const band = sums.band[load];
    if (band === undefined) return { load, mean_load: null, ...NOTHING };
    return { load, mean_load: band.load / band.energy.s, ...energyFigure(band.energy) };
  });
  const thin = bands.filter(({ minutes, kw_per_ton }) => minutes < PART_LOAD_MINUTES_MIN || !(Number(kw_per_ton) > 0));
  if (thin.length > 0) {
    const where = thin.map(({ load }) => `${load} %`).join(', ');
    const reason = `less than ${PART_LOAD_MINUTES_MIN} minutes near ${where} of rated capacity`;
    return { kw_per_ton: null, uncertainty: null, note: PART_LOAD_NOTE, reason, bands };
  }
  const perTon = bands.map(({ kw_per_ton }) => kw_per_ton as number) as [number, number, number, number];
  const value = weightedPartLoad(perTon);
  return { kw_per_ton: value, uncertainty: spread(sums, perTon, value), note: PART_LOAD_NOTE, reason: null, bands };
}

/** The bands in the order of `RATED_LOADS`; null where one of them gives no uncertainty. */
function spread({ band }: Sums, perTon: readonly number[], value: number): number | null {
  let [kept, squares] = [0, 0];
  for (const [index, load] of RATED_LOADS.entries()) {
    const found = band[load];
    const parts = found === undefined ? null : uncertaintyParts([found.energy], 'apart');
    if (parts === null || parts.kept.kw_per_ton === null || parts.random.kw_per_ton === null) return null;
    const weight = PART_LOAD_WEIGHTS[load] * (value / (perTon[index] as number)) ** 2;
    kept += weight * parts.kept.kw_per_ton;
    squares += (weight * parts.random.kw_per_ton) ** 2;
  }
  return Math.hypot(kept, Math.sqrt(squares));
}

const NOTHING: EnergyFigure = {
  minutes: 0,
  ton_hours: 0,
  kwh: 0,
  kw_per_ton: null,
  uncertainty: { ton_hours: null, kwh: null, kw_per_ton: null },
};
