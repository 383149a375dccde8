/** A season: what one chiller did between two instants, as figures for its owner. What `/api/season` answers. */
import { assert } from '../base/result.ts';
import { rfc3339 } from '../base/time.ts';
import {
  type EnergyFigure,
  energyFigure,
  plantEnergyFigure,
  type Sharing,
  together,
  type UncertaintyParts,
  uncertaintyParts,
} from './energy.ts';
import { type PartLoad, partLoad } from './part-load.ts';
import { type Amount, type AmountName, addSums, LIFT_BIN_K, LOAD_BIN, NO_SUMS, type Sums } from './sums.ts';
import { monthsOf, type NamedSpan, type Span } from './zone.ts';

/** Said beside every season, so that nobody takes its figures for more than they are. */
export const SEASON_NOTES = {
  scope: 'the chiller alone, without pumps and tower',
  kw_per_ton: 'energy over ton-hours of the minutes used, never a mean of ratios',
  uncertainty:
    'expanded (k = 2); what a sensor is wrong by lasts and does not average out, the scatter of its readings does',
  minutes_used: 'minutes lacking are left out, nothing is put in their place: sums are of the minutes used',
} as const;

export interface AmountFigure {
  readonly kwh: number | null;
  /** Expanded, k = 2. */
  readonly uncertainty: number | null;
  readonly minutes_lacking: number;
  /** Of the minutes counted, those whose value is of quality uncertain. */
  readonly minutes_uncertain: number;
  /** Why there is no figure; null where there is. */
  readonly reason: string | null;
}

export interface BinFigure extends EnergyFigure {
  /** Load: share of rated capacity. Lift: K. From (included) to (not). */
  readonly from: number;
  readonly to: number;
}

export interface Minutes {
  readonly minutes_due: number;
  readonly minutes_recorded: number;
  readonly minutes_used: number;
  /** The machine stood still: nothing to use. */
  readonly minutes_standing: number;
  /** Due, and neither used nor standing: not recorded, or power or capacity missing. */
  readonly minutes_lacking: number;
}

export interface PeriodFigure extends Minutes, Omit<EnergyFigure, 'minutes' | 'kwh' | 'ton_hours'> {
  /** `2026-03-29` or `2026-03`. */
  readonly name: string;
  readonly from: string;
  readonly to: string;
  readonly hours: number;
  readonly ton_hours: number | null;
  readonly kwh: number | null;
  /** By the economizer; null where no minute says. */
  readonly kwh_saved: number | null;
  readonly kwh_missed: number | null;
}

export interface MoneyFigure {
  readonly currency: string;
  readonly price_per_kwh: number;
  /** Energy of the minutes used and of standstill. */
  readonly energy: number | null;
  readonly saved: number | null;
  readonly missed: number | null;
  /** Expanded (k = 2), of the energies: the price is taken as exact. */
  readonly uncertainty: {
    readonly energy: number | null;
    readonly saved: number | null;
    readonly missed: number | null;
  };
}

export interface Tariff {
  readonly price_per_kwh: number;
  readonly currency: string;
}

export interface SeasonFigure extends Omit<PeriodFigure, 'name' | 'hours'> {
  readonly chiller: string;
  readonly time_zone: string;
  /** Why a figure is null, by its name. */
  readonly reasons: Readonly<Record<string, string>>;
  /** Of `uncertainty`. */
  readonly uncertainty_parts: UncertaintyParts;
  readonly lacking: {
    readonly not_recorded: number;
    readonly without_power: number;
    readonly without_capacity: number;
    readonly state_unknown: number;
  };
  /** Of the minutes used, those with power or capacity of quality uncertain (a moving machine among others). */
  readonly minutes_uncertain: number;
  /** Null where nothing is recorded, or where the machine stood and nothing measured its power. */
  readonly kwh_standing: number | null;
  readonly compressors: Readonly<Record<'main_compressor' | 'economizer_compressor', AmountFigure>>;
  readonly economizer: {
    readonly minutes_on: number;
    readonly minutes_off: number;
    readonly saved: AmountFigure;
    readonly missed: AmountFigure;
  };
  readonly bins: { readonly load: readonly BinFigure[]; readonly lift: readonly BinFigure[] };
  readonly part_load: PartLoad;
  readonly months: readonly PeriodFigure[];
  readonly days: readonly PeriodFigure[];
  readonly money: MoneyFigure | null;
  readonly notes: typeof SEASON_NOTES;
}

/** `days`: the local days of the period (`daysOf`), and what each of them adds up to; one sum for each day. */
export interface SeasonQuery extends Span {
  readonly chiller: string;
  readonly time_zone: string;
  readonly tariff: Tariff | null;
  readonly days: readonly NamedSpan[];
  readonly sums: readonly Sums[];
}

export function season(query: SeasonQuery): SeasonFigure {
  const { chiller, time_zone, tariff } = query;
  assert(query.sums.length === query.days.length, 'there is one sum for each day');
  const days = query.days.map((day, index) => ({ ...day, sums: query.sums[index] as Sums }));
  const months = monthsOf(days).map(({ name, days: within }) => ({
    name,
    from: (within[0] as NamedSpan).from,
    to: (within.at(-1) as NamedSpan).to,
    sums: total(within),
  }));
  const sums = total(days);
  const { name: _, hours: __, ...whole } = periodFigure({ name: '', from: query.from, to: query.to, machines: [sums] });
  const saved = economizerFigure(sums, 'saved');
  const missed = economizerFigure(sums, 'missed');
  return {
    chiller,
    time_zone,
    ...whole,
    reasons: reasonsOf(whole, sums),
    uncertainty_parts: periodParts(whole, [sums]),
    lacking: {
      not_recorded: Math.max(0, whole.minutes_due - whole.minutes_recorded),
      without_power: sums.lacking_power_s / 60,
      without_capacity: sums.lacking_capacity_s / 60,
      state_unknown: sums.unknown_s / 60,
    },
    minutes_uncertain: sums.doubtful_s / 60,
    kwh_standing: standingEnergy(sums),
    compressors: {
      main_compressor: amountFigure(sums.amounts.main_compressor),
      economizer_compressor: amountFigure(sums.amounts.economizer_compressor),
    },
    economizer: { minutes_on: sums.economizer_on_s / 60, minutes_off: sums.economizer_off_s / 60, saved, missed },
    bins: { load: bins(sums.load, LOAD_BIN), lift: bins(sums.lift, LIFT_BIN_K) },
    part_load: partLoad(sums),
    months: months.map(({ sums: each, ...span }) => periodFigure({ ...span, machines: [each] })),
    days: days.map(({ sums: each, ...span }) => periodFigure({ ...span, machines: [each] })),
    money: tariff === null ? null : moneyFigure(tariff, { machines: [sums], saved, missed }),
    notes: SEASON_NOTES,
  };
}

export function standingEnergy({ recorded_s, standing: { s, kws, lacking_s } }: Sums): number | null {
  return recorded_s > 0 && (s > 0 || lacking_s === 0) ? kws / 3600 : null;
}

export function total(parts: readonly { readonly sums: Sums }[]): Sums {
  return parts.reduce((all, { sums }) => addSums(all, sums), NO_SUMS);
}

/** One machine or several: minutes are those of all machines together. */
export function periodFigure(
  { name, from, to, machines }: NamedSpan & { readonly machines: readonly Sums[] },
  sharing: Sharing = 'apart',
): PeriodFigure {
  const due = (machines.length * (to - from)) / 60_000;
  const sums = total(machines.map((each) => ({ sums: each })));
  const standing = sums.standing_s / 60;
  const { minutes: used, ...energy } = plantEnergyFigure(
    machines.map(({ energy: each }) => each),
    sharing,
  );
  // Without a minute used there is a sum only where the machine is known to have stood.
  const known = used > 0 || standing > 0;
  return {
    name,
    from: rfc3339(from),
    to: rfc3339(to),
    hours: (to - from) / 3_600_000,
    ...energy,
    ton_hours: known ? energy.ton_hours : null,
    kwh: known ? energy.kwh : null,
    kwh_saved: economizerFigure(sums, 'saved').kwh,
    kwh_missed: economizerFigure(sums, 'missed').kwh,
    uncertainty: known ? energy.uncertainty : { ton_hours: null, kwh: null, kw_per_ton: null },
    minutes_due: due,
    minutes_recorded: sums.recorded_s / 60,
    minutes_used: used,
    minutes_standing: standing,
    minutes_lacking: Math.max(0, due - used - standing),
  };
}

/** Both parts of a period's uncertainty, with nulls where it has one. */
export function periodParts(
  { uncertainty }: Pick<PeriodFigure, 'uncertainty'>,
  machines: readonly Sums[],
): UncertaintyParts {
  const parts = uncertaintyParts(
    machines.map(({ energy }) => energy),
    'apart',
  );
  return uncertainty.kwh === null ? { kept: uncertainty, random: uncertainty } : parts;
}

function reasonsOf(
  whole: Pick<PeriodFigure, 'ton_hours' | 'kw_per_ton' | 'uncertainty'>,
  sums: Sums,
): Record<string, string> {
  const reasons: Record<string, string> = {};
  const nothing = sums.recorded_s === 0 ? 'no minute is recorded' : 'no minute has both power and capacity';
  if (whole.ton_hours === null) Object.assign(reasons, { ton_hours: nothing, kwh: nothing });
  if (whole.kw_per_ton === null) reasons['kw_per_ton'] = sums.standing_s > 0 ? 'no cooling was made' : nothing;
  if (sums.energy.unsure_s > 0)
    reasons['uncertainty'] = `${sums.energy.unsure_s / 60} of the minutes used give no uncertainty`;
  return reasons;
}

export function economizerFigure(sums: Sums, name: AmountName): AmountFigure {
  const none = sums.economizer_on_s === 0 && sums.economizer_off_s === 0;
  const nothing = sums.recorded_s > sums.standing_s ? 'no economizer was seen on or off' : 'the machine did not run';
  const figure = amountFigure(sums.amounts[name]);
  return none ? { ...figure, kwh: null, uncertainty: null, reason: nothing } : figure;
}

export function amountFigure({ s, kws, kept, random = 0, unsure_s, doubtful_s, lacking_s }: Amount): AmountFigure {
  const reason = s > 0 ? null : lacking_s > 0 ? 'no minute gives it' : 'the machine did not run';
  return {
    kwh: s > 0 ? kws / 3600 : null,
    uncertainty: s > 0 && unsure_s === 0 ? Math.hypot(kept, Math.sqrt(random)) / 3600 : null,
    minutes_lacking: lacking_s / 60,
    minutes_uncertain: doubtful_s / 60,
    reason,
  };
}

function bins(sums: Sums['load'], width: number): BinFigure[] {
  return Object.entries(sums)
    .map(([key, energy]) => ({ number: Number(key), energy }))
    .sort((a, b) => a.number - b.number)
    .map(({ number, energy }) => ({
      from: Number((number * width).toFixed(6)),
      to: Number(((number + 1) * width).toFixed(6)),
      ...energyFigure(energy),
    }));
}

/** Energy of the minutes used and of standstill of all machines, and what their economizers were worth. */
export function moneyFigure(
  { price_per_kwh, currency }: Tariff,
  of: { readonly machines: readonly Sums[]; readonly saved: AmountFigure; readonly missed: AmountFigure },
  sharing: Sharing = 'apart',
): MoneyFigure {
  const price = (kwh: number | null): number | null => (kwh === null ? null : kwh * price_per_kwh);
  const known = of.machines.filter(({ energy, standing_s }) => energy.s > 0 || standing_s > 0);
  const energy = known.reduce((sum, each) => sum + each.energy.power / 3600 + (standingEnergy(each) ?? 0), 0);
  return {
    currency,
    price_per_kwh,
    energy: known.length === 0 ? null : price(energy),
    saved: price(of.saved.kwh),
    missed: price(of.missed.kwh),
    uncertainty: {
      energy: price(energyUncertainty(known, sharing)),
      saved: price(of.saved.uncertainty),
      missed: price(of.missed.uncertainty),
    },
  };
}

/** kWh, k = 2. One meter measures running and standstill: its kept errors add as they are. */
function energyUncertainty(machines: readonly Sums[], sharing: Sharing): number | null {
  if (machines.length === 0 || machines.some(({ energy, standing }) => energy.unsure_s > 0 || standing.unsure_s > 0))
    return null;
  const kept = machines.map(({ energy, standing }) => energy.power_kept + standing.kept);
  const random = machines.reduce((sum, { energy, standing }) => sum + energy.power_random + (standing.random ?? 0), 0);
  return Math.hypot(together(kept, sharing), Math.sqrt(random)) / 3600;
}
