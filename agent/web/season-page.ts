/** Gathers what the season view shows: period, a row a day (an hour while there are few days), months, totals. */
import { ok, type Result } from '../base/result.ts';
import type { StepFigure } from '../season/answer.ts';
import { LIFT_EDGES_K, LOAD_EDGES } from '../season/load-lift.ts';
import type { SeasonAnswer } from '../season/plant.ts';
import { SEASON_NOTES } from '../season/season.ts';
import { laterDate, localDate, zoneOffsets } from '../season/zone.ts';
import type { SeasonMachine, SeasonPage, SeasonRow } from './page-types.ts';
import { chillerNamed } from './query.ts';
import { seasonFault } from './refuse.ts';
import type { SeasonQuestion, SiteFigure, WebData } from './types.ts';

const DAY = 86_400_000;
/** Looked back where nobody says from when. */
const DEFAULT_DAYS = 365;
/** Up to so many recorded days are drawn by the hour. */
const HOURLY_DAYS = 4;

/** Null: all machines. */
export function seasonWho(site: SiteFigure, id: string): Result<string | null> {
  if (id.toLowerCase() === 'both') return ok(null);
  const found = chillerNamed(site, id);
  return found.ok ? ok(found.value.id) : found;
}

interface Asked {
  readonly who: string | null;
  readonly query: Readonly<Record<string, unknown>>;
  readonly clock: number;
}

/** An empty or doubled parameter is left to the default: a page is better than an error. */
function given(query: Asked['query'], key: string): string | undefined {
  const value = query[key];
  return typeof value === 'string' && value !== '' && value.length <= 60 ? value : undefined;
}

export function seasonPage(data: WebData, { who, query, clock }: Asked): SeasonPage {
  const offsets = zoneOffsets(data.site().time_zone);
  const from = given(query, 'from');
  const to = given(query, 'to');
  const question: SeasonQuestion = {
    chiller: who,
    from: from ?? laterDate(localDate(clock, offsets), -DEFAULT_DAYS),
    to,
    step: 'day',
  };
  const found = fitting(data, question, from !== undefined);
  const shown = found.ok ? found.value : null;
  const ends = [shown?.from, shown?.to].map((time) => (time === undefined ? clock : Date.parse(time)));
  const [first = clock, last = clock] = ends;
  const days = [localDate(first, offsets), localDate(Math.max(first, last - 1), offsets)] as const;
  return {
    who: who ?? 'both',
    from: shown?.from ?? new Date(clock).toISOString(),
    to: shown?.to ?? new Date(clock).toISOString(),
    days: found.ok ? days : [from ?? days[0], to ?? days[1]],
    asked: from !== undefined || to !== undefined,
    step: shown?.step === 'hour' ? 'hour' : 'day',
    ...contents(shown),
    load_edges: LOAD_EDGES,
    lift_edges: LIFT_EDGES_K,
    notes: SEASON_NOTES,
    fault: found.ok ? null : seasonFault(found.fault).message,
  };
}

/** By the day; where nobody said from when, from the first recorded day on; a short history by the hour. */
function fitting(data: WebData, question: SeasonQuestion, fixed: boolean): Result<SeasonAnswer> {
  const found = data.season(question);
  if (!found.ok) return found;
  const rows = stepsOf(found.value);
  const first = rows.findIndex(({ minutes_recorded }) => minutes_recorded > 0);
  const begins = fixed || first < 0 ? rows[0] : rows[first];
  if (begins === undefined) return found;
  const days = (Date.parse(found.value.to) - Date.parse(begins.from)) / DAY;
  const hourly = first >= 0 && days <= HOURLY_DAYS;
  if (!hourly) return begins === rows[0] ? found : data.season({ ...question, from: begins.from });
  const hours = data.season({ ...question, from: begins.from, step: 'hour' });
  if (fixed || !hours.ok) return hours;
  const begun = stepsOf(hours.value).find(({ minutes_recorded }) => minutes_recorded > 0);
  return begun === undefined ? hours : data.season({ ...question, from: begun.from, step: 'hour' });
}

function stepsOf({ plant, chillers }: SeasonAnswer): readonly StepFigure[] {
  return plant?.steps ?? chillers[0]?.steps ?? [];
}

function contents(answer: SeasonAnswer | null): Pick<SeasonPage, 'plant' | 'chillers' | 'months' | 'rows' | 'tariff'> {
  if (answer === null) return { plant: null, chillers: [], months: [], rows: [], tariff: null };
  const { plant, chillers } = answer;
  const money = plant?.money ?? chillers[0]?.money ?? null;
  const tariff = money === null ? null : { price_per_kwh: money.price_per_kwh, currency: money.currency };
  return {
    plant: plant === null ? null : withoutRows(plant),
    chillers: chillers.map((one): SeasonMachine => {
      const { time_zone: _, notes: __, ...rest } = withoutRows(one);
      return rest;
    }),
    months: plant?.months ?? chillers[0]?.months ?? [],
    rows: stepsOf(answer).map(rowOf),
    tariff,
  };
}

function withoutRows<T extends { readonly steps: unknown; readonly months: unknown }>(
  figure: T,
): Omit<T, 'steps' | 'months'> {
  const { steps: _, months: __, ...rest } = figure;
  return rest;
}

/** Digits that a chart can show. */
function short(value: number | null): number | null {
  return value === null ? null : Number(value.toPrecision(5));
}

function rowOf({ from, kwh, ton_hours, against }: StepFigure): SeasonRow {
  const compared = against === null || against.kw_per_ton === null ? null : against.kwh / against.kw_per_ton;
  return [
    Date.parse(from),
    short(kwh),
    short(ton_hours),
    short(against?.kwh ?? null),
    short(against?.kwh_expected ?? null),
    short(compared),
    short(against?.uncertainty.kwh_more ?? null),
  ];
}
