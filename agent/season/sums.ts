/**
 * What intervals add up to: one pure sum for any span, from an hour to years. Everything in it only adds; the figures
 * that people read are made of it at the end (figures.ts). Plain JSON, so that the store keeps the sums of each hour.
 */
import { type Figure, partsOf } from '../base/metric.ts';
import { joinFigures, type RandomShares, type SplitFigures } from '../metrics/figures.ts';
import { addEnergy, type Energy, energyOf, NO_ENERGY } from './energy.ts';
import { addSteady, STEADY_FIGURES, type Steady, type SteadySums, steadyOf, steadyPoints } from './steady.ts';

/**
 * Raised with every change of what the sums hold or mean: stored ones of another form are made anew from minutes, as
 * far as these are still there. What only came to be left out of older ones does not change it.
 */
export const SUMS_FORM = 2;

/** A stored interval as far as seasons need it; catalogue units, k = 2. */
export interface SeasonMinute {
  /** End of the interval, ms since the epoch: it counts by its end. */
  readonly time: number;
  readonly interval_s: number;
  readonly state: string;
  readonly economizer: string;
  readonly figures: Readonly<Record<string, Figure>>;
  /** Points that the baseline needs, catalogue units; null where there was no reading. */
  readonly points: Readonly<Record<string, number | null>>;
}

/** A power summed over time, kW s, with its uncertainty (k = 2). */
export interface Amount {
  readonly s: number;
  readonly kws: number;
  /** Errors that last: sum of u dt. */
  readonly kept: number;
  /** Errors new in each interval: sum of (u dt)2. Left out: 0, as in hours stored before they were told apart. */
  readonly random?: number;
  /** Of `s` without uncertainty. */
  readonly unsure_s: number;
  /** Of `s` with a value of quality uncertain. */
  readonly doubtful_s: number;
  /** Intervals in which it should have been there and was not, s. */
  readonly lacking_s: number;
}

export const NO_AMOUNT: Amount = { s: 0, kws: 0, kept: 0, random: 0, unsure_s: 0, doubtful_s: 0, lacking_s: 0 };

/** Energy of the intervals near one of the loads of the rating standard, with load fraction times s. */
export interface Band {
  readonly energy: Energy;
  readonly load: number;
}

export interface Sums {
  /** Intervals that were recorded, s; each is used, standing or lacking. */
  readonly recorded_s: number;
  /** The machine stood still. */
  readonly standing_s: number;
  /** It ran, or nobody knew, and power or capacity is missing. */
  readonly lacking_s: number;
  readonly lacking_power_s: number;
  readonly lacking_capacity_s: number;
  readonly unknown_s: number;
  /** Used, with power or capacity of quality uncertain. */
  readonly doubtful_s: number;
  /** The machine ran with its economizer on; with one that was off, s. */
  readonly economizer_on_s: number;
  readonly economizer_off_s: number;
  /** Used intervals. */
  readonly energy: Energy;
  readonly standing: Amount;
  readonly amounts: Readonly<Record<AmountName, Amount>>;
  /** Used intervals by bin number: of load, of lift; and of the loads of the rating standard in percent. */
  readonly load: Readonly<Record<string, Energy>>;
  readonly lift: Readonly<Record<string, Energy>>;
  readonly band: Readonly<Record<string, Band>>;
  /** Steady intervals with both water temperatures, by the way the economizer stood. */
  readonly steady: SteadySums;
}

export const AMOUNTS = ['main_compressor', 'economizer_compressor', 'saved', 'missed'] as const;
export type AmountName = (typeof AMOUNTS)[number];

const NO_AMOUNTS: Sums['amounts'] = {
  main_compressor: NO_AMOUNT,
  economizer_compressor: NO_AMOUNT,
  saved: NO_AMOUNT,
  missed: NO_AMOUNT,
};

export const NO_SUMS: Sums = {
  recorded_s: 0,
  standing_s: 0,
  lacking_s: 0,
  lacking_power_s: 0,
  lacking_capacity_s: 0,
  unknown_s: 0,
  doubtful_s: 0,
  economizer_on_s: 0,
  economizer_off_s: 0,
  energy: NO_ENERGY,
  standing: NO_AMOUNT,
  amounts: NO_AMOUNTS,
  load: {},
  lift: {},
  band: {},
  steady: {},
};

/** Width of a bin of load (of rated capacity) and of lift (K). What lies beyond the last is counted there. */
export const LOAD_BIN = 0.1;
export const LIFT_BIN_K = 2;
const LOAD_BINS = 15;
const LIFT_BINS = 40;

/** Loads of the rating standard, percent; an interval belongs to the nearest, below 12.5 and above 112.5 to none. */
export const RATED_LOADS = [100, 75, 50, 25] as const;

const STILL: ReadonlySet<string> = new Set(['off', 'standstill']);

/** The interval of a stored record; null where it is none. `time`: end of the interval, ms. */
export function seasonMinute(record: unknown, time: number): SeasonMinute | null {
  if (typeof record !== 'object' || record === null) return null;
  const { interval_s, state, economizer, values, points, ...rest } = record as Record<string, unknown>;
  if (typeof interval_s !== 'number' || !(interval_s > 0) || typeof values !== 'object' || values === null) return null;
  const split = { values, uncertainty: rest['uncertainty'] ?? {}, quality: rest['quality'] ?? {} } as SplitFigures;
  const shares = (rest['random_share'] ?? {}) as RandomShares;
  return {
    time,
    interval_s,
    state: typeof state === 'string' ? state : 'unknown',
    economizer: typeof economizer === 'string' ? economizer : 'unknown',
    figures: joinFigures({ ...split, values: wanted(split.values) }, shares),
    points: steadyPoints(points),
  };
}

/** What is added up with its uncertainty. */
export const SUMMED_FIGURES = [
  'unit.power',
  'unit.capacity',
  'unit.kw_per_ton',
  'main_compressor.power',
  'economizer_compressor.power',
  'economizer.power_saved',
  'economizer.missed_saving',
] as const;

const WANTED = [...SUMMED_FIGURES, 'unit.load_fraction', 'main_compressor.lift', ...STEADY_FIGURES];

function wanted(values: SplitFigures['values']): Record<string, number | null> {
  return Object.fromEntries(WANTED.filter((name) => name in values).map((name) => [name, values[name] ?? null]));
}

/** One interval as sums. */
export function sumsOf(minute: SeasonMinute): Sums {
  const { interval_s: s, state, figures } = minute;
  const recorded = { ...NO_SUMS, recorded_s: s };
  const energy = energyOf(figures, s);
  if (STILL.has(state) || (state === 'stopping' && energy === null))
    return { ...recorded, standing_s: s, standing: amount(figures['unit.power'], s) };
  const lacks = (name: string): number => ((figures[name]?.value ?? null) === null ? s : 0);
  if (state === 'unknown') return { ...recorded, lacking_s: s, unknown_s: s };
  const ran = {
    ...recorded,
    amounts: amountsOf(minute),
    economizer_on_s: minute.economizer === 'on' ? s : 0,
    economizer_off_s: minute.economizer === 'off' ? s : 0,
  };
  if (energy === null)
    return {
      ...ran,
      lacking_s: s,
      lacking_power_s: lacks('unit.power'),
      lacking_capacity_s: lacks('unit.capacity'),
    };
  const doubtful = figures['unit.power']?.quality !== 'good' || figures['unit.capacity']?.quality !== 'good';
  return { ...ran, doubtful_s: doubtful ? s : 0, energy, ...binned(figures, energy), steady: steadyOf(minute) };
}

function binned(figures: SeasonMinute['figures'], energy: Energy): Pick<Sums, 'load' | 'lift' | 'band'> {
  const load = figures['unit.load_fraction']?.value ?? null;
  const lift = figures['main_compressor.lift']?.value ?? null;
  const nearest = load === null ? null : Math.round(load * 4) * 25;
  const rated = RATED_LOADS.find((each) => each === nearest);
  return {
    load: load === null ? {} : { [bin(load / LOAD_BIN, LOAD_BINS)]: energy },
    lift: lift === null ? {} : { [bin(lift / LIFT_BIN_K, LIFT_BINS)]: energy },
    band: rated === undefined || load === null ? {} : { [rated]: { energy, load: load * energy.s } },
  };
}

/** A value on an edge belongs to the bin above it, whatever the last digit of the division. */
function bin(widths: number, count: number): number {
  return Math.min(count - 1, Math.max(0, Math.floor(widths + 1e-9)));
}

function amountsOf({ figures, economizer, interval_s: s }: SeasonMinute): Sums['amounts'] {
  const of = (name: string): Amount => amount(figures[name], s);
  // An economizer that is off or not there takes nothing and saves nothing, which is known.
  const none = { ...NO_AMOUNT, s };
  const on = economizer === 'on' || economizer === 'unknown';
  return {
    main_compressor: of('main_compressor.power'),
    economizer_compressor: on ? of('economizer_compressor.power') : none,
    saved: on ? of('economizer.power_saved') : none,
    missed: economizer === 'off' || economizer === 'unknown' ? of('economizer.missed_saving') : none,
  };
}

function amount(figure: Figure | undefined, s: number): Amount {
  if (figure === undefined || figure.value === null) return { ...NO_AMOUNT, lacking_s: s };
  const parts = partsOf(figure);
  return {
    s,
    kws: figure.value * s,
    kept: (parts?.kept ?? 0) * s,
    random: ((parts?.random ?? 0) * s) ** 2,
    unsure_s: figure.uncertainty === null ? s : 0,
    doubtful_s: figure.quality === 'good' ? 0 : s,
    lacking_s: 0,
  };
}

export function addSums(a: Sums, b: Sums): Sums {
  return {
    recorded_s: a.recorded_s + b.recorded_s,
    standing_s: a.standing_s + b.standing_s,
    lacking_s: a.lacking_s + b.lacking_s,
    lacking_power_s: a.lacking_power_s + b.lacking_power_s,
    lacking_capacity_s: a.lacking_capacity_s + b.lacking_capacity_s,
    unknown_s: a.unknown_s + b.unknown_s,
    doubtful_s: a.doubtful_s + b.doubtful_s,
    economizer_on_s: a.economizer_on_s + b.economizer_on_s,
    economizer_off_s: a.economizer_off_s + b.economizer_off_s,
    energy: addEnergy(a.energy, b.energy),
    standing: addAmount(a.standing, b.standing),
    amounts: merged(a.amounts, b.amounts, addAmount) as Sums['amounts'],
    load: merged(a.load, b.load, addEnergy),
    lift: merged(a.lift, b.lift, addEnergy),
    band: merged(a.band, b.band, addBand),
    steady: merged<Steady>(a.steady as Record<string, Steady>, b.steady as Record<string, Steady>, addSteady),
  };
}

function addAmount(a: Amount, b: Amount): Amount {
  return {
    s: a.s + b.s,
    kws: a.kws + b.kws,
    kept: a.kept + b.kept,
    random: (a.random ?? 0) + (b.random ?? 0),
    unsure_s: a.unsure_s + b.unsure_s,
    doubtful_s: a.doubtful_s + b.doubtful_s,
    lacking_s: a.lacking_s + b.lacking_s,
  };
}

function addBand(a: Band, b: Band): Band {
  return { energy: addEnergy(a.energy, b.energy), load: a.load + b.load };
}

function merged<T>(
  a: Readonly<Record<string, T>>,
  b: Readonly<Record<string, T>>,
  add: (a: T, b: T) => T,
): Record<string, T> {
  const all: Record<string, T> = { ...a };
  for (const [key, more] of Object.entries(b)) all[key] = all[key] === undefined ? more : add(all[key], more);
  return all;
}
