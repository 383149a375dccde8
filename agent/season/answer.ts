/** What a season answers: each machine against its baseline, and the machines together. API, page and verb show it. */

import { rfc3339 } from '../base/time.ts';
import { ACCEPTED, type Candidate, GUIDELINE_14_HOURLY } from '../baseline/fit.ts';
import { type ModelName, modelNamed } from '../baseline/models.ts';
import {
  type AgainstFigure,
  addCompared,
  againstFigure,
  type Compared,
  comparedVariance,
  compareHour,
  NOTHING_COMPARED,
} from './against.ts';
import { type LoadLiftBin, loadLiftBins } from './load-lift.ts';
import { type Epoch, RESTARTING, type Reference } from './reference.ts';
import { type PeriodFigure, periodFigure, type SeasonFigure, season, type Tariff } from './season.ts';
import { MODES, type Mode, type SteadyMeans } from './steady.ts';
import { addSums, NO_SUMS, type Sums } from './sums.ts';
import { type WorkWorth, workWorth } from './work.ts';
import { monthsOf, type NamedSpan, type Span } from './zone.ts';

export const STEPS = ['hour', 'day', 'month'] as const;
export type Step = (typeof STEPS)[number];

/** Against the clean machine, in money where there is a tariff. */
export interface DeviationFigure extends AgainstFigure {
  /** Of `kwh_more` at the tariff; null without one. */
  readonly cost: number | null;
  readonly cost_uncertainty: number | null;
}

export interface StepFigure extends PeriodFigure {
  /** Null where no baseline applies to any hour of it. */
  readonly against: DeviationFigure | null;
  /** Measured less expected since the period began or the baseline was restarted, kWh; null without a baseline. */
  readonly kwh_more_summed: number | null;
}

export interface FitFigure {
  readonly mode: Mode;
  readonly hours: number;
  readonly days: number;
  /** Null: none is accepted. */
  readonly model: ModelName | null;
  readonly label: string | null;
  readonly formula: string | null;
  readonly parameters: Readonly<Record<string, number>>;
  /** Scatter of an hour about the model, kW, k = 1. */
  readonly scatter_kw: number | null;
  readonly autocorrelation: number | null;
  readonly candidates: readonly Candidate[];
  readonly reason: string | null;
}

export interface LevelFigure extends Pick<Epoch, 'kind' | 'level' | 'hours' | 'reason'> {
  /** Null: since ever. */
  readonly from: string | null;
  /** Expanded, k = 2. */
  readonly uncertainty: number | null;
}

export interface BaselineFigure {
  readonly from: string;
  readonly to: string;
  readonly accepted: typeof ACCEPTED;
  readonly guideline_14_hourly: typeof GUIDELINE_14_HOURLY;
  readonly fits: readonly FitFigure[];
  readonly levels: readonly LevelFigure[];
  /** Why nothing can be compared; null where something can. */
  readonly reason: string | null;
}

/** At the tariff; null without one. */
export interface WorkMoney extends WorkWorth {
  readonly money: number | null;
  readonly money_uncertainty: number | null;
}

export interface WorkFigure {
  readonly id: number;
  readonly time: string;
  readonly kind: string;
  readonly text: string;
  readonly mass_kg: number | null;
  /** Null without a baseline, and for work that restarts none. */
  readonly worth: WorkMoney | null;
}

export interface ChillerSeason extends Omit<SeasonFigure, 'months' | 'days'> {
  readonly name: string;
  readonly steps: readonly StepFigure[];
  /** Local months, whatever the step. */
  readonly months: readonly StepFigure[];
  /** Null: none is declared. */
  readonly baseline: BaselineFigure | null;
  readonly against: DeviationFigure | null;
  readonly load_lift: readonly LoadLiftBin[];
  readonly maintenance: readonly WorkFigure[];
}

/** An entry of the maintenance log. */
export interface Entry {
  readonly id: number;
  /** ms since the epoch. */
  readonly time: number;
  readonly kind: string;
  readonly text: string;
  readonly mass_kg: number | null;
}

/** `spans`: steps of the period, in order, and what each adds up to. */
export interface ChillerQuery extends Span {
  readonly chiller: string;
  readonly name: string;
  readonly rated_capacity: number;
  readonly time_zone: string;
  readonly tariff: Tariff | null;
  readonly spans: readonly NamedSpan[];
  readonly sums: readonly Sums[];
  readonly reference: Reference | null;
  /** Steady hours: of the period, and before it as far as work is to be priced. */
  readonly hours: readonly SteadyMeans[];
  readonly maintenance: readonly Entry[];
}

export function deviationFigure(compared: Compared, variance: number, tariff: Tariff | null): DeviationFigure | null {
  const figure = againstFigure(compared, variance);
  if (figure.deviation === null) return null;
  const price = tariff?.price_per_kwh ?? null;
  const spread = figure.uncertainty.kwh_more;
  return {
    ...figure,
    cost: price === null ? null : figure.kwh_more * price,
    cost_uncertainty: price === null || spread === null ? null : spread * price,
  };
}

/** Hours by the step in which they begin. */
export function comparedBySpan({
  spans,
  reference,
  hours,
}: Pick<ChillerQuery, 'spans' | 'reference' | 'hours'>): Compared[] {
  const all: Compared[] = spans.map(() => NOTHING_COMPARED);
  if (reference === null) return all;
  let index = 0;
  for (const hour of hours) {
    while (index < spans.length - 1 && hour.time >= (spans[index] as NamedSpan).to) index += 1;
    const span = spans[index];
    if (span === undefined || hour.time < span.from || hour.time >= span.to) continue;
    all[index] = addCompared(all[index] as Compared, compareHour(reference, hour));
  }
  return all;
}

export function chillerSeason(query: ChillerQuery): { readonly season: ChillerSeason; readonly compared: Compared[] } {
  const { from, to, chiller, name, time_zone, tariff, spans, sums, reference, hours } = query;
  const { months: _, days: __, ...figure } = season({ chiller, time_zone, tariff, from, to, days: spans, sums });
  const compared = comparedBySpan(query);
  const variance = (of: Compared): number => (reference === null ? 0 : comparedVariance(reference, of));
  const restarts = (reference?.epochs ?? []).map((epoch) => epoch.from);
  const parts = partsOf({ sums, compared }, spans);
  const tell = (each: readonly Part[]): StepFigure[] => stepFigures(each, { reference, restarts, tariff });
  const steps = tell(parts);
  // Summed from the days: work in the middle of a month restarts there.
  const months = tell(monthParts(parts)).map((month) => ({
    ...month,
    kwh_more_summed: steps.findLast((step) => step.to <= month.to)?.kwh_more_summed ?? null,
  }));
  const whole = compared.reduce(addCompared, NOTHING_COMPARED);
  const within = hours.filter(({ time }) => time >= from && time < to);
  return {
    compared,
    season: {
      ...figure,
      name,
      steps,
      months,
      baseline: reference === null ? null : baselineFigure(reference),
      against: deviationFigure(whole, variance(whole), tariff),
      load_lift: loadLiftBins(within, { reference, rated_capacity: query.rated_capacity }),
      maintenance: query.maintenance.map((entry) => workFigure(entry, query)),
    },
  };
}

export interface Part {
  readonly span: NamedSpan;
  readonly sums: Sums;
  readonly compared: Compared;
}

export function partsOf(
  { sums, compared }: { readonly sums: readonly Sums[]; readonly compared: readonly Compared[] },
  spans: readonly NamedSpan[],
): Part[] {
  return spans.map((span, index) => ({
    span,
    sums: sums[index] as Sums,
    compared: compared[index] as Compared,
  }));
}

/** Steps gathered by their local month. */
export function monthParts(parts: readonly Part[]): Part[] {
  return monthsOf(parts.map((part) => ({ ...part.span, part }))).map(({ name, days }) => ({
    span: { name, from: (days[0] as NamedSpan).from, to: (days.at(-1) as NamedSpan).to },
    sums: days.reduce((all, { part }) => addSums(all, part.sums), NO_SUMS),
    compared: days.reduce((all, { part }) => addCompared(all, part.compared), NOTHING_COMPARED),
  }));
}

function stepFigures(
  parts: readonly Part[],
  {
    reference,
    restarts,
    tariff,
  }: { readonly reference: Reference | null; readonly restarts: readonly number[]; readonly tariff: Tariff | null },
): StepFigure[] {
  let summed = 0;
  return parts.map(({ span, sums, compared }): StepFigure => {
    const variance = reference === null ? 0 : comparedVariance(reference, compared);
    const against = deviationFigure(compared, variance, tariff);
    if (restarts.some((time) => time > span.from && time <= span.to)) summed = 0;
    summed += against?.kwh_more ?? 0;
    return {
      ...periodFigure({ ...span, machines: [sums] }),
      against,
      kwh_more_summed: reference === null || reference.reason !== null ? null : summed,
    };
  });
}

export function baselineFigure(reference: Reference): BaselineFigure {
  return {
    from: rfc3339(reference.declared.from),
    to: rfc3339(reference.declared.to),
    accepted: ACCEPTED,
    guideline_14_hourly: GUIDELINE_14_HOURLY,
    fits: MODES.flatMap((mode): FitFigure[] => {
      const fit = reference.fits[mode];
      if (fit === undefined) return [];
      const { machine, hours, days, candidates, reason } = fit;
      const model = machine === null ? null : modelNamed(machine.model);
      return [
        {
          mode,
          hours,
          days,
          candidates,
          reason,
          model: model?.name ?? null,
          label: model?.label ?? null,
          formula: model?.formula ?? null,
          parameters: Object.fromEntries(
            (model?.parameters ?? []).map((each, index) => [each, machine?.parameters[index] as number]),
          ),
          scatter_kw: machine?.scatter ?? null,
          autocorrelation: machine?.autocorrelation ?? null,
        },
      ];
    }),
    levels: reference.epochs.map(({ from, kind, level, level_deviation, hours, reason }) => ({
      from: Number.isFinite(from) ? rfc3339(from) : null,
      kind,
      level,
      uncertainty: level === null ? null : 2 * level_deviation,
      hours,
      reason,
    })),
    reason: reference.reason,
  };
}

function workFigure(
  { time, ...entry }: Entry,
  { reference, hours, maintenance, tariff, to }: ChillerQuery,
): WorkFigure {
  const figure = { ...entry, time: rfc3339(time) };
  const restarts = (kind: string): boolean => RESTARTING.some((each) => each === kind);
  if (reference === null || reference.reason !== null || !restarts(entry.kind)) return { ...figure, worth: null };
  const others = maintenance
    .filter((other) => other.id !== entry.id && restarts(other.kind))
    .map((other) => other.time);
  const span = {
    from: Math.max(Number.NEGATIVE_INFINITY, ...others.filter((other) => other <= time)),
    to: Math.min(to, ...others.filter((other) => other > time)),
  };
  const worth = workWorth(reference, { kind: entry.kind, time, span, hours });
  const price = tariff?.price_per_kwh ?? null;
  const priced = (kwh: number | null): number | null => (price === null || kwh === null ? null : kwh * price);
  return {
    ...figure,
    worth: { ...worth, money: priced(worth.kwh_avoided), money_uncertainty: priced(worth.uncertainty) },
  };
}
