/**
 * The machines of a plant over a season: sums of what each did, and ratios of those sums. Within a machine every
 * sensor's error is kept all season; between machines nothing is known: meters of their own (`uncertainty`), or errors
 * that all of them share, as one make and one calibration can give (`uncertainty_common`). The truth lies between.
 */
import { addCompared, type Compared, NOTHING_COMPARED } from './against.ts';
import {
  type ChillerSeason,
  type DeviationFigure,
  deviationFigure,
  monthParts,
  type Part,
  partsOf,
  type Step,
  type StepFigure,
} from './answer.ts';
import { together } from './energy.ts';
import {
  type AmountFigure,
  type MoneyFigure,
  moneyFigure,
  type PeriodFigure,
  periodFigure,
  periodParts,
  type SEASON_NOTES,
  standingEnergy,
  type Tariff,
} from './season.ts';
import { addSums, NO_SUMS, type Sums } from './sums.ts';
import type { NamedSpan, Span } from './zone.ts';

export interface PlantMachine {
  readonly season: ChillerSeason;
  readonly sums: readonly Sums[];
  readonly compared: readonly Compared[];
  /** Variance of measured less expected energy, kWh2, k = 1. */
  readonly variance: (compared: Compared) => number;
}

export interface PlantSeason extends Omit<PeriodFigure, 'name' | 'hours'> {
  readonly chillers: readonly string[];
  /** Machines with nothing to sum, and why. */
  readonly lacking: Readonly<Record<string, string>>;
  readonly uncertainty_common: PeriodFigure['uncertainty'];
  readonly uncertainty_parts: ChillerSeason['uncertainty_parts'];
  readonly kwh_standing: number | null;
  readonly compressors: ChillerSeason['compressors'];
  readonly economizer: ChillerSeason['economizer'];
  readonly money: MoneyFigure | null;
  readonly against: DeviationFigure | null;
  readonly steps: readonly StepFigure[];
  readonly months: readonly StepFigure[];
}

/** GET /api/season, and what the page shows. */
export interface SeasonAnswer {
  readonly from: string;
  readonly to: string;
  readonly time_zone: string;
  readonly step: Step;
  /** The machines together; null where one alone was asked for. */
  readonly plant: PlantSeason | null;
  readonly chillers: readonly ChillerSeason[];
  readonly notes: typeof SEASON_NOTES;
}

export function plantSeason(
  machines: readonly PlantMachine[],
  { from, to, spans, tariff }: Span & { readonly spans: readonly NamedSpan[]; readonly tariff: Tariff | null },
): PlantSeason {
  const totals = machines.map(({ sums }) => sums.reduce(addSums, NO_SUMS));
  const { name: _, hours: __, ...whole } = periodFigure({ name: '', from, to, machines: totals });
  const common = periodFigure({ name: '', from, to, machines: totals }, 'common');
  const of = (pick: (season: ChillerSeason) => AmountFigure): AmountFigure =>
    added(machines.map(({ season }) => pick(season)));
  const saved = of(({ economizer }) => economizer.saved);
  const missed = of(({ economizer }) => economizer.missed);
  const minutes = (pick: (season: ChillerSeason) => number): number =>
    machines.reduce((sum, { season }) => sum + pick(season), 0);
  const standing = totals.map(standingEnergy).filter((kwh) => kwh !== null);
  return {
    chillers: machines.map(({ season }) => season.chiller),
    lacking: Object.fromEntries(
      machines.flatMap(({ season }) =>
        season.kwh === null ? [[season.chiller, season.reasons['kwh'] ?? 'nothing to sum']] : [],
      ),
    ),
    ...whole,
    uncertainty_common: common.uncertainty,
    uncertainty_parts: periodParts(whole, totals),
    kwh_standing: standing.length === 0 ? null : standing.reduce((sum, kwh) => sum + kwh, 0),
    compressors: {
      main_compressor: of(({ compressors }) => compressors.main_compressor),
      economizer_compressor: of(({ compressors }) => compressors.economizer_compressor),
    },
    economizer: {
      minutes_on: minutes(({ economizer }) => economizer.minutes_on),
      minutes_off: minutes(({ economizer }) => economizer.minutes_off),
      saved,
      missed,
    },
    money: tariff === null ? null : moneyFigure(tariff, { machines: totals, saved, missed }),
    against: against(machines, (machine) => machine.compared.reduce(addCompared, NOTHING_COMPARED), tariff),
    steps: stepsOf(machines, tariff, (machine) => partsOf(machine, spans)),
    months: stepsOf(machines, tariff, (machine) => monthParts(partsOf(machine, spans)), 'months'),
  };
}

function stepsOf(
  machines: readonly PlantMachine[],
  tariff: Tariff | null,
  parts: (machine: PlantMachine) => readonly Part[],
  key: 'steps' | 'months' = 'steps',
): StepFigure[] {
  const some = machines.some(({ season }) => season.baseline !== null && season.baseline.reason === null);
  const all = machines.map((machine) => ({ ...machine, parts: parts(machine) }));
  return (all[0]?.parts ?? []).map(({ span }, index) => {
    const summed = machines.map(({ season }) => season[key][index]?.kwh_more_summed ?? 0);
    const own = all.map((machine) => ({ ...machine, part: machine.parts[index] as Part }));
    return {
      ...periodFigure({ ...span, machines: own.map(({ part }) => part.sums) }),
      against: against(own, ({ part }) => part.compared, tariff),
      kwh_more_summed: some ? summed.reduce((sum, kwh) => sum + kwh, 0) : null,
    };
  });
}

/** The machines' models have nothing in common: their variances add. */
function against<T extends PlantMachine>(
  machines: readonly T[],
  pick: (machine: T) => Compared,
  tariff: Tariff | null,
): DeviationFigure | null {
  const all = machines.map((machine) => ({ compared: pick(machine), variance: machine.variance }));
  // Sums alone are taken of what is joined here; slopes of different machines have no meaning together.
  return deviationFigure(
    all.reduce((sum, { compared }) => addCompared(sum, compared), NOTHING_COMPARED),
    all.reduce((sum, { compared, variance }) => sum + variance(compared), 0),
    tariff,
  );
}

/** A machine that did not run adds nothing, which is known. */
function added(amounts: readonly AmountFigure[]): AmountFigure {
  const known = amounts.filter(({ kwh }) => kwh !== null);
  const uncertainties = known.map(({ uncertainty }) => uncertainty);
  const sum = (pick: (amount: AmountFigure) => number): number => amounts.reduce((all, each) => all + pick(each), 0);
  return {
    kwh: known.length === 0 ? null : known.reduce((all, { kwh }) => all + (kwh ?? 0), 0),
    uncertainty:
      known.length === 0 || uncertainties.includes(null)
        ? null
        : together(
            uncertainties.map((each) => each ?? 0),
            'apart',
          ),
    minutes_lacking: sum((each) => each.minutes_lacking),
    minutes_uncertain: sum((each) => each.minutes_uncertain),
    reason: known.length > 0 ? null : (amounts.find(({ reason }) => reason !== null)?.reason ?? null),
  };
}
