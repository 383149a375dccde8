/** What clients may ask, checked before any data call. */
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { STEPS } from '../season/answer.ts';
import type { Look, UnitSystem } from './page-types.ts';
import type { ChillerFigure, SeasonQuestion, SiteFigure } from './types.ts';

export interface HistoryQuery {
  readonly metric: string;
  /** Milliseconds since the epoch. */
  readonly from: number;
  readonly to: number;
  /** Seconds; 0 asks for the stored resolution. */
  readonly step_s: number;
}

type Query = Readonly<Record<string, unknown>>;

/** The chiller of that id, whatever its case. */
export function chillerNamed(site: SiteFigure, id: string): Result<ChillerFigure> {
  const found = site.chillers.find((chiller) => chiller.id.toLowerCase() === id.toLowerCase());
  if (found !== undefined) return ok(found);
  const known = site.chillers.map((chiller) => chiller.id).join(', ');
  return fail('web_unknown_chiller', `There is no chiller '${id.slice(0, 60)}'; known: ${known}.`);
}

function text(query: Query, key: string): Result<string> {
  const value = query[key];
  if (typeof value === 'string' && value !== '') return ok(value);
  const what = value === undefined || value === '' ? 'is missing' : 'is given more than once';
  return fail('web_bad_query', `Parameter '${key}' ${what}.`);
}

const RFC_3339 = /^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)$/;

function time(query: Query, key: string): Result<number> {
  const given = text(query, key);
  if (!given.ok) return given;
  const value = RFC_3339.test(given.value) ? Date.parse(given.value) : Number.NaN;
  if (Number.isNaN(value))
    return fail(
      'web_bad_query',
      `Parameter '${key}' is '${given.value.slice(0, 60)}': give a time such as 2026-07-14T10:42:00Z.`,
    );
  return ok(value);
}

export function historyQuery(query: Query, finest_s: number): Result<HistoryQuery> {
  const metric = text(query, 'metric');
  if (!metric.ok) return metric;
  if (!/^[a-z0-9_]{1,60}(\.[a-z0-9_]{1,60}){1,3}$/.test(metric.value))
    return fail(
      'web_bad_query',
      `Parameter 'metric' is '${metric.value.slice(0, 60)}': give a name such as unit.capacity.`,
    );
  const from = time(query, 'from');
  if (!from.ok) return from;
  const to = time(query, 'to');
  if (!to.ok) return to;
  if (from.value >= to.value) return fail('web_bad_query', "Parameter 'from' must be earlier than 'to'.");
  const given = query['step'] === undefined ? ok('0') : text(query, 'step');
  if (!given.ok) return given;
  const step_s = /^\d{1,9}$/.test(given.value) ? Number(given.value) : Number.NaN;
  if (Number.isNaN(step_s))
    return fail(
      'web_bad_query',
      `Parameter 'step' is '${given.value.slice(0, 60)}': give whole seconds, 0 for the stored resolution.`,
    );
  const points = Math.ceil((to.value - from.value) / 1000 / (step_s === 0 ? finest_s : step_s));
  if (points > LIMITS.history_points_max) {
    const least = Math.ceil((to.value - from.value) / 1000 / LIMITS.history_points_max);
    return fail(
      'web_too_many_points',
      `That is ${points} points, at most ${LIMITS.history_points_max} are answered: ask a shorter time, or a step of at least ${least} s.`,
    );
  }
  return ok({ metric: metric.value, from: from.value, to: to.value, step_s });
}

/** Chiller, period and step of a season; a period is read where the site's time zone is known. */
export function seasonQuery(query: Query, site: SiteFigure): Result<SeasonQuestion> {
  const given: Record<string, string | undefined> = {};
  for (const key of ['chiller', 'from', 'to', 'step']) {
    if (query[key] === undefined) continue;
    const found = text(query, key);
    if (!found.ok) return found;
    if (found.value.length > 60) return fail('web_bad_query', `Parameter '${key}' is longer than anything it can be.`);
    given[key] = found.value;
  }
  const format = query['format'];
  if (format !== undefined && format !== 'json' && format !== 'csv')
    return fail('web_bad_query', "Parameter 'format' is json or csv, given once.");
  const step = STEPS.find((each) => each === (given['step'] ?? 'day'));
  if (step === undefined)
    return fail('web_bad_query', `Parameter 'step' is '${given['step']}': give ${STEPS.join(', ')}.`);
  const { chiller: id, from, to } = given;
  if (id === undefined) return ok({ chiller: null, from, to, step });
  const chiller = chillerNamed(site, id);
  return chiller.ok ? ok({ chiller: chiller.value.id, from, to, step }) : chiller;
}

/**
 * Units and look of the address; what is not understood is left to the site's choice: a page is better than an error.
 */
export function choices(query: Query, site: SiteFigure): { system: UnitSystem; look: Look } {
  const units = query['units'];
  const look = query['look'];
  return {
    system: units === 'ip' || units === 'si' ? units : site.unit_system,
    look: look === 'light' || look === 'dark' ? look : 'auto',
  };
}
