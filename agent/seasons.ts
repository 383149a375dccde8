/**
 * Seasons of a site from its store: what the verb, the API and the page ask. The baseline is derived from stored hours
 * and the maintenance log each time; `ReferenceShelf` keeps it as long as neither can have changed it.
 */
import { LIMITS } from './base/limits.ts';
import { fail, ok, type Result } from './base/result.ts';
import { rfc3339 } from './base/time.ts';
import type { MaintenanceEntry, MaintenanceQuery } from './history/maintenance.ts';
import type { SpansQuery } from './history/rollups.ts';
import { comparedVariance } from './season/against.ts';
import { type ChillerQuery, chillerSeason, type Step } from './season/answer.ts';
import { readPeriod } from './season/period.ts';
import { type PlantMachine, plantSeason, type SeasonAnswer } from './season/plant.ts';
import { type Declared, RESTARTING, type Reference, referenceOf } from './season/reference.ts';
import { SEASON_NOTES } from './season/season.ts';
import { type SteadyHour, type SteadyMeans, steadyMeans } from './season/steady.ts';
import type { Sums } from './season/sums.ts';
import {
  dayStart,
  daysOf,
  HOUR,
  laterDate,
  localDate,
  localTime,
  monthsOf,
  type NamedSpan,
  type Offsets,
  type Span,
  zoneOffsets,
} from './season/zone.ts';
import type { ChillerSite, Site } from './site/site.ts';

/** What a season needs of the store: an open one, or a reader beside it. */
export interface SeasonStore {
  seasonSums(query: SpansQuery): Result<Sums[]>;
  steadyHours(query: Span & { readonly chiller: string }): Result<SteadyHour[]>;
  maintenance(query: MaintenanceQuery): Result<MaintenanceEntry[]>;
}

export interface SeasonAsked {
  /** Null: all of the site. */
  readonly chiller: string | null;
  readonly period: Span;
  readonly step: Step;
  readonly now: number;
}

/** Local steps of a period: hours are cut at the full hour by UTC and at local midnight. */
export function spansOf(period: Span, step: Step, offsets: Offsets): NamedSpan[] {
  const days = daysOf(period, offsets);
  if (step === 'day') return days;
  if (step === 'month')
    return monthsOf(days).map(({ name, days: within }) => ({
      name,
      from: (within[0] as NamedSpan).from,
      to: (within.at(-1) as NamedSpan).to,
    }));
  return days.flatMap((day) => {
    const hours: NamedSpan[] = [];
    for (let from = day.from; from < day.to; ) {
      const to = Math.min(day.to, Math.floor(from / HOUR + 1) * HOUR);
      hours.push({ name: localTime(from, offsets), from, to });
      from = to;
    }
    return hours;
  });
}

export function declaredOf({ baseline }: Pick<ChillerSite, 'baseline'>, offsets: Offsets): Declared | null {
  if (baseline === null) return null;
  const { from, to, model = null } = baseline;
  return { from: dayStart(from, offsets), to: dayStart(laterDate(to, 1), offsets), model };
}

/** The baseline of one chiller as the store gives it now; null where none is declared. */
export function readReference(
  store: SeasonStore,
  { site, chiller, now }: { readonly site: Site; readonly chiller: ChillerSite; readonly now: number },
): Result<Reference | null> {
  const declared = declaredOf(chiller, zoneOffsets(site.time_zone));
  if (declared === null) return ok(null);
  const log = store.maintenance({ chiller: chiller.id, from: 0, to: now });
  if (!log.ok) return log;
  const restarts = log.value.filter(({ kind }) => RESTARTING.some((each) => each === kind));
  // The declared period, and from each work on as many hours as its level may take.
  const spans = [declared, ...restarts.map(({ time }) => ({ from: time, to: time + LEVEL_DAYS * 24 * HOUR }))];
  const hours: SteadyMeans[] = [];
  for (const { from, to } of joined(spans, now)) {
    const found = store.steadyHours({ chiller: chiller.id, from, to });
    if (!found.ok) return found;
    hours.push(...steadyMeans(found.value));
  }
  return ok(referenceOf({ declared, hours, restarts }));
}

/** Days after work in which the hours of a new level are looked for. */
const LEVEL_DAYS = 92;

/** Spans in order without overlap, none beyond now. */
function joined(spans: readonly Span[], now: number): Span[] {
  const parts: { from: number; to: number }[] = [];
  for (const { from, to } of [...spans].sort((a, b) => a.from - b.from)) {
    const last = parts.at(-1);
    if (last !== undefined && from <= last.to) last.to = Math.max(last.to, Math.min(to, now));
    else if (from < now) parts.push({ from, to: Math.min(to, now) });
  }
  return parts;
}

/**
 * Baselines as long as they hold: derived at the start, at each midnight and with each entry of the log; each hour
 * while hours for it are still being gathered.
 */
export class ReferenceShelf {
  readonly #site: Site;
  readonly #offsets: Offsets;
  readonly #kept = new Map<string, { readonly key: string; readonly reference: Reference | null }>();

  constructor(site: Site) {
    this.#site = site;
    this.#offsets = zoneOffsets(site.time_zone);
  }

  get(store: SeasonStore, chiller: ChillerSite, now: number): Result<Reference | null> {
    if (chiller.baseline === null) return ok(null);
    const log = store.maintenance({ chiller: chiller.id, from: 0, to: now });
    if (!log.ok) return log;
    const kept = this.#kept.get(chiller.id);
    const waiting = kept?.reference != null && gathering(kept.reference, now);
    const part = waiting ? String(Math.floor(now / HOUR)) : '';
    const key = `${localDate(now, this.#offsets)} ${part} ${log.value.map(({ id }) => id).join(' ')}`;
    if (kept?.key === key) return ok(kept.reference);
    const found = readReference(store, { site: this.#site, chiller, now });
    if (found.ok) this.#kept.set(chiller.id, { key, reference: found.value });
    return found;
  }
}

/** Whether the next hours may change it: of a declared period that is not over yet, of a level anew. */
function gathering({ declared, epochs }: Reference, now: number): boolean {
  return now < declared.to + 24 * HOUR || epochs.at(-1)?.level === null;
}

/** For the minutes; a store that cannot be read now counts it itself, and the minute goes without. */
export function referenceFrom(
  shelf: ReferenceShelf,
  store: SeasonStore,
): (chiller: ChillerSite, time: number) => Reference | null {
  return (chiller, time) => {
    const found = shelf.get(store, chiller, time);
    return found.ok ? found.value : null;
  };
}

interface ChillerAsked extends Omit<SeasonAsked, 'chiller'> {
  readonly site: Site;
  readonly chiller: ChillerSite;
  readonly reference: Reference | null;
}

/** Everything of one chiller that a season is made of. */
export function readChiller(store: SeasonStore, asked: ChillerAsked): Result<ChillerQuery> {
  const { site, chiller, period, step, reference } = asked;
  const { id, name, machine } = chiller;
  const spans = spansOf(period, step, zoneOffsets(site.time_zone));
  const sums = store.seasonSums({ chiller: id, spans });
  if (!sums.ok) return sums;
  const maintenance = store.maintenance({ chiller: id, ...period });
  if (!maintenance.ok) return maintenance;
  const before = maintenance.value.length > 0 && reference !== null ? LIMITS.baseline_before_hours * HOUR : 0;
  const hours = store.steadyHours({ chiller: id, from: period.from - before, to: period.to });
  if (!hours.ok) return hours;
  return ok({
    ...period,
    chiller: id,
    name,
    rated_capacity: machine.rated_capacity / 1000,
    time_zone: site.time_zone,
    tariff: site.tariff,
    spans,
    sums: sums.value,
    reference,
    hours: steadyMeans(hours.value),
    maintenance: maintenance.value.map(({ chiller: _, entered: __, ...entry }) => entry),
  });
}

/** `from` and `to` as people write them; the period, or one sentence about what is wrong. */
export function askedPeriod(
  site: Site,
  {
    from,
    to,
    step,
    now,
  }: { readonly from: string; readonly to: string | undefined; readonly step: Step; readonly now: number },
): Result<Span> {
  const period = readPeriod({ from, to }, { offsets: zoneOffsets(site.time_zone), now });
  if (!period.ok) return period;
  const hours = (period.value.to - period.value.from) / HOUR;
  if (step === 'hour' && hours > LIMITS.history_points_max)
    return fail(
      'usage',
      `step hour: ${Math.ceil(hours)} hours, at most ${LIMITS.history_points_max} are answered: ask days`,
    );
  return period;
}

export function seasonAnswer(
  store: SeasonStore,
  { site, shelf, asked }: { readonly site: Site; readonly shelf: ReferenceShelf; readonly asked: SeasonAsked },
): Result<SeasonAnswer> {
  const { period, step, now } = asked;
  const machines: PlantMachine[] = [];
  let spans: readonly NamedSpan[] = [];
  for (const chiller of site.chillers) {
    if (asked.chiller !== null && chiller.id !== asked.chiller) continue;
    const reference = shelf.get(store, chiller, now);
    if (!reference.ok) return reference;
    const query = readChiller(store, { site, chiller, period, step, now, reference: reference.value });
    if (!query.ok) return query;
    const { season, compared } = chillerSeason(query.value);
    ({ spans } = query.value);
    machines.push({
      season,
      compared,
      sums: query.value.sums,
      variance: (of) => (reference.value === null ? 0 : comparedVariance(reference.value, of)),
    });
  }
  const { time_zone, tariff } = site;
  return ok({
    from: rfc3339(period.from),
    to: rfc3339(period.to),
    time_zone,
    step,
    plant: asked.chiller === null ? plantSeason(machines, { ...period, spans, tariff }) : null,
    chillers: machines.map(({ season }) => season),
    notes: SEASON_NOTES,
  });
}
