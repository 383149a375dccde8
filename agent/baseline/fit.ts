/**
 * The clean machine: each model fitted to the hours of a declared period and judged on hours that it has not seen. The
 * same hours give the same fit: nothing is remembered between two calls.
 *
 * Judged on power by CV(RMSE) and NMBE as ASHRAE Guideline 14 defines them. Its hourly limits (30 % and 10 %) are made
 * for whole buildings and shown beside; a chiller must do better (5 % and 0.5 %; common practice, no source).
 */
import { LIMITS } from '../base/limits.ts';
import { type LeastSquares, nonlinearLeastSquares, type Rows } from './least-squares.ts';
import { fittedBy, MODELS, type Model, type ModelName, type Observation } from './models.ts';

export const ACCEPTED = { cv: 0.05, nmbe: 0.005 } as const;
export const GUIDELINE_14_HOURLY = { cv: 0.3, nmbe: 0.1 } as const;

/** Parts that the days are dealt into: each part is judged by a fit to the others. */
const PARTS = 5;
const HOUR = 3_600_000;
const DAY = 24 * HOUR;

export interface Judgement {
  /** Root mean square error over mean power, 1. */
  readonly cv: number;
  /** Mean bias over mean power, measured less predicted, 1. */
  readonly nmbe: number;
}

/** What the fitted hours covered; beyond it a model is a guess. */
export interface Range {
  /** kW */
  readonly capacity: readonly [number, number];
  /** Entering condenser less leaving chilled water, K. */
  readonly lift: readonly [number, number];
}

export interface CleanMachine {
  readonly model: ModelName;
  readonly parameters: readonly number[];
  /** Of the parameters, k = 1: from residuals, widened for their relation from hour to hour. */
  readonly covariance: Rows;
  /** Standard deviation of one hour about the model, kW, k = 1. */
  readonly scatter: number;
  /** Relation of residuals an hour apart, 0 to 1. */
  readonly autocorrelation: number;
  readonly hours: number;
  readonly range: Range;
  /** By hours left out of the fit. */
  readonly judged: Judgement;
}

export interface Candidate {
  readonly model: ModelName;
  /** Null where it could not be fitted. */
  readonly judged: Judgement | null;
  readonly accepted: boolean;
  /** Why it is not accepted; null where it is. */
  readonly reason: string | null;
}

export interface Fit {
  readonly hours: number;
  readonly days: number;
  /** Null: none is accepted, and `reason` says why. */
  readonly machine: CleanMachine | null;
  readonly reason: string | null;
  readonly candidates: readonly Candidate[];
}

/**
 * The accepted model with the smallest error on hours it has not seen, of those asked for. `observations` in order of
 * time.
 */
export function fitCleanMachine(
  observations: readonly Observation[],
  { models = MODELS }: { readonly models?: readonly Model[] } = {},
): Fit {
  const hours = observations.length;
  const days = new Set(observations.map(({ time }) => Math.floor(time / DAY))).size;
  const none = { hours, days, machine: null };
  if (hours < LIMITS.baseline_hours_min)
    return { ...none, reason: `${hours} of at least ${LIMITS.baseline_hours_min} steady hours so far`, candidates: [] };
  if (days < PARTS)
    return { ...none, reason: `steady hours on ${days} of at least ${PARTS} days so far`, candidates: [] };
  const tried = models.map((model) => tryModel(model, observations));
  const candidates = tried.map(({ candidate }) => candidate);
  const [best] = tried
    .filter(({ candidate }) => candidate.accepted)
    .sort((a, b) => (a.candidate.judged?.cv ?? 1) - (b.candidate.judged?.cv ?? 1));
  if (best?.machine != null) return { hours, days, machine: best.machine, reason: null, candidates };
  return { ...none, reason: candidates.map(({ reason }) => reason).join('; '), candidates };
}

function tryModel(
  model: Model,
  observations: readonly Observation[],
): { readonly candidate: Candidate; readonly machine: CleanMachine | null } {
  const refuse = (reason: string, judged: Judgement | null = null) => ({
    candidate: { model: model.name, judged, accepted: false, reason: `${model.label}: ${reason}` },
    machine: null,
  });
  const some = thinned(observations);
  const whole = solve(model, some, model.start(some));
  const judged = whole === null ? null : judge(model, some, whole.parameters);
  if (whole === null || judged === null) return refuse('the hours do not determine it (too alike in load and water)');
  const words = `CV ${percent(judged.cv)}, NMBE ${percent(judged.nmbe)}`;
  if (judged.cv > ACCEPTED.cv || Math.abs(judged.nmbe) > ACCEPTED.nmbe)
    return refuse(
      `${words}: beyond ${percent(ACCEPTED.cv)} and ${percent(ACCEPTED.nmbe)} on hours left out of the fit`,
      judged,
    );
  return {
    candidate: { model: model.name, judged, accepted: true, reason: null },
    machine: cleanMachine(model, { observations, solved: whole, judged }),
  };
}

function percent(share: number): string {
  return `${(100 * share).toFixed(2)} %`;
}

/** Evenly over the whole period; which ones depends on their number alone. */
function thinned(observations: readonly Observation[]): readonly Observation[] {
  const share = LIMITS.baseline_fit_hours_max / observations.length;
  if (share >= 1) return observations;
  return observations.filter((_, index) => Math.floor((index + 1) * share) > Math.floor(index * share));
}

function solve(
  model: Model,
  observations: readonly Observation[],
  start: readonly number[] | null,
): LeastSquares | null {
  const observed = observations.map(({ power }) => power);
  return start === null ? null : nonlinearLeastSquares(fittedBy(model, observations), { observed, start });
}

/** Days are left out by turns, so that hours of one day are never on both sides. */
function judge(model: Model, observations: readonly Observation[], start: readonly number[]): Judgement | null {
  const errors: number[] = [];
  const part = ({ time }: Observation): number => Math.floor(time / DAY) % PARTS;
  for (let left = 0; left < PARTS; left += 1) {
    const unseen = observations.filter((each) => part(each) === left);
    if (unseen.length === 0) continue;
    const solved = solve(
      model,
      observations.filter((each) => part(each) !== left),
      start,
    );
    if (solved === null) return null;
    for (const each of unseen) {
      const predicted = model.predict(solved.parameters, each);
      if (predicted === null) return null;
      errors.push(each.power - predicted.power);
    }
  }
  return judgement(errors, { mean: meanPower(observations), parameters: model.parameters.length });
}

/** ASHRAE Guideline 14: both over n - p, and over the mean of what was measured. */
export function judgement(
  errors: readonly number[],
  { mean, parameters }: { readonly mean: number; readonly parameters: number },
): Judgement {
  const freedom = errors.length - parameters;
  const square = errors.reduce((sum, error) => sum + error * error, 0);
  const bias = errors.reduce((sum, error) => sum + error, 0);
  return { cv: Math.sqrt(square / freedom) / mean, nmbe: bias / freedom / mean };
}

function meanPower(observations: readonly Observation[]): number {
  return observations.reduce((sum, { power }) => sum + power, 0) / observations.length;
}

function cleanMachine(
  model: Model,
  {
    observations,
    solved,
    judged,
  }: { readonly observations: readonly Observation[]; readonly solved: LeastSquares; readonly judged: Judgement },
): CleanMachine {
  const square = solved.residuals.reduce((sum, residual) => sum + residual * residual, 0);
  const variance = square / solved.freedom;
  // Of all hours, not only of those fitted: neighbours are what it is about.
  const residuals = observations.map(
    (each) => each.power - (model.predict(solved.parameters, each)?.power ?? each.power),
  );
  const autocorrelation = relation(observations, residuals);
  const widened = variance * fewer(autocorrelation);
  const loads = observations.map(({ capacity }) => capacity);
  const lifts = observations.map(({ condenser, chilled }) => condenser - chilled);
  return {
    model: model.name,
    parameters: solved.parameters,
    covariance: solved.inverse.map((row) => row.map((value) => value * widened)),
    scatter: Math.sqrt(variance),
    autocorrelation,
    hours: observations.length,
    range: { capacity: ends(loads), lift: ends(lifts) },
    judged,
  };
}

function ends(values: readonly number[]): readonly [number, number] {
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of values) {
    least = Math.min(least, value);
    most = Math.max(most, value);
  }
  return [least, most];
}

/** Lag-one autocorrelation over hours that follow each other; what is below zero widens nothing and is taken as 0. */
function relation(observations: readonly Observation[], residuals: readonly number[]): number {
  let [both, square, pairs] = [0, 0, 0];
  for (let n = 1; n < observations.length; n += 1) {
    if ((observations[n]?.time ?? 0) - (observations[n - 1]?.time ?? 0) !== HOUR) continue;
    const [before, after] = [residuals[n - 1] as number, residuals[n] as number];
    both += before * after;
    square += (before ** 2 + after ** 2) / 2;
    pairs += 1;
  }
  return pairs === 0 || square === 0 ? 0 : Math.min(0.99, Math.max(0, both / square));
}

/**
 * By how much fewer the independent hours are: n/n' = (1 + rho)/(1 - rho) (ASHRAE Guideline 14, uncertainty with
 * autocorrelated residuals).
 */
export function fewer(autocorrelation: number): number {
  return (1 + autocorrelation) / (1 - autocorrelation);
}
