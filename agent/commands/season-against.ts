/** What a machine took against its baseline, and what work was worth, as lines for people. */
import type { BaselineFigure, ChillerSeason, DeviationFigure, WorkFigure } from '../season/answer.ts';
import { modeWords } from '../season/reference.ts';
import { amount, count, plain, withUncertainty } from './season-numbers.ts';

type Compared = Pick<ChillerSeason, 'baseline' | 'against' | 'money'>;

/** Nothing where no baseline is declared. */
export function againstLines({ baseline, against, money }: Compared): string[] {
  if (baseline === null) return [];
  if (against === null || against.deviation === null) {
    const why = baseline.reason ?? 'no hour of this period can be compared with it';
    return [`Baseline: none. ${capital(why)}.`, ...fitLines(baseline)];
  }
  const { hours, hours_outside, hours_without } = against;
  const left = [
    hours_outside > 0 ? `${count(hours_outside)} beyond the fitted load and water temperatures` : '',
    hours_without > 0 ? `${count(hours_without)} without a baseline for the way they ran` : '',
  ].filter((part) => part !== '');
  return [
    deviationLine(against, money?.currency ?? null),
    `Compared: ${count(hours)} steady hours${left.length === 0 ? '' : `; not compared: ${left.join(', ')}`}.`,
    ...fitLines(baseline),
  ];
}

function deviationLine(against: DeviationFigure, currency: string | null): string {
  const { deviation, uncertainty, kw_per_ton, kw_per_ton_expected, kwh_more, cost, cost_uncertainty } = against;
  const share = withUncertainty(100 * (deviation ?? 0), 100 * (uncertainty.deviation ?? 0));
  const energy = withUncertainty(kwh_more, uncertainty.kwh_more);
  const price = cost === null || currency === null ? '' : `, ${amount(cost, cost_uncertainty)} ${currency}`;
  return (
    `Against the clean machine at the same load and water temperatures: ${share} %, ${energy} kWh${price} ` +
    `(${plain(kw_per_ton)} instead of ${plain(kw_per_ton_expected)} kW/ton).`
  );
}

function fitLines({ fits, levels, guideline_14_hourly: limits }: BaselineFigure): string[] {
  const lines = fits.flatMap(({ mode, hours, label, model, candidates }) => {
    const judged = candidates.find((each) => each.model === model)?.judged;
    if (label === null || judged == null) return [];
    const figures = `CV ${percent(judged.cv)}, NMBE ${percent(judged.nmbe)} of hours left out`;
    return [`Baseline, ${modeWords(mode)}: ${label} on ${count(hours)} steady hours, ${figures}.`];
  });
  const anew = levels.flatMap(({ from, kind, level, uncertainty, reason }) => {
    if (from === null) return [];
    const words = level === null ? (reason ?? '') : `level ${withUncertainty(level, uncertainty)} of the declared one`;
    return [`Since ${kind} of ${from}: ${words}.`];
  });
  if (lines.length === 0) return anew;
  const allowed = `ASHRAE Guideline 14 allows ${100 * limits.cv} % and ${100 * limits.nmbe} % of hours of buildings`;
  return [...lines, ...anew, `(${allowed}, too wide to mean anything here.)`];
}

function percent(share: number): string {
  return `${(100 * share).toFixed(2)} %`;
}

/** An entry of the maintenance log with what it was worth. */
export function workLines(
  { time, kind, text, mass_kg, worth }: WorkFigure,
  { local, currency }: { readonly local: (instant: string) => string; readonly currency: string | null },
): string[] {
  const entry = `${local(time)}  ${kind}${mass_kg === null ? '' : `, ${plain(mass_kg)} kg`}: ${text}`;
  if (worth === null) return [entry];
  const sides =
    worth.before === null || worth.after === null
      ? ''
      : `${percent(worth.before)} against the declared machine before, ${percent(worth.after)} since; `;
  if (worth.kwh_avoided === null) return [entry, `  ${sides}${worth.reason}`];
  const price =
    worth.money === null || currency === null ? '' : `, ${amount(worth.money, worth.money_uncertainty)} ${currency}`;
  return [entry, `  ${sides}avoided since: ${withUncertainty(worth.kwh_avoided, worth.uncertainty)} kWh${price}`];
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
