/**
 * What the minutes of a replay add up to, for its summary and its report. Bounded, whatever the length of the export.
 */
import { LIMITS } from './base/limits.ts';
import type { Figure } from './base/metric.ts';
import { rfc3339 } from './base/time.ts';
import type { MinuteOutcome } from './minute.ts';
import { season } from './season/season.ts';
import { addSums, NO_SUMS, type Sums, seasonMinute, sumsOf } from './season/sums.ts';
import { daysOf, localDate, type Offsets, type Span, zoneOffsets } from './season/zone.ts';
import type { Site } from './site/site.ts';
import { toStored } from './stored-minute.ts';
import type { LoopPayload, ValvesPayload } from './valves/payload.ts';
import {
  type AlarmSeen,
  type ChillerSummary,
  type FigureCount,
  type LoopCount,
  TRENDS,
  type TrendBins,
  type TrendName,
} from './web/replay-types.ts';

export interface TallyOptions {
  readonly chiller: string;
  readonly site: Site;
  readonly interval_s: number;
  /** What the export spans, ms. */
  readonly span: Span;
}

const REASONS_MAX = 24;
const REASONS_TOLD = 5;
const EVIDENCE_TOLD = 3;
const STANDING: ReadonlySet<string> = new Set(['off', 'standstill', 'stopping', 'unknown']);

class Counter {
  good = 0;
  uncertain = 0;
  missing = 0;
  readonly reasons = new Reasons();

  add({ value, quality, reason }: Pick<Figure, 'value' | 'quality' | 'reason'>): void {
    if (value === null) this.missing += 1;
    else if (quality === 'good') this.good += 1;
    else this.uncertain += 1;
    if (reason !== null && quality !== 'good') this.reasons.add(reason);
  }

  count(): FigureCount {
    const { good, uncertain, missing } = this;
    return { good, uncertain, missing, reasons: this.reasons.list() };
  }
}

/** Reasons that differ in their figures alone are one. */
class Reasons {
  readonly #kinds = new Map<string, { reason: string; count: number }>();

  add(reason: string): void {
    const key = reason.replaceAll(/\d[\d.:TZ-]*/g, '#');
    const kind = this.#kinds.get(key);
    if (kind !== undefined) kind.count += 1;
    else if (this.#kinds.size < REASONS_MAX) this.#kinds.set(key, { reason, count: 1 });
  }

  list(): { reason: string; count: number }[] {
    return [...this.#kinds.values()].sort((a, b) => b.count - a.count).slice(0, REASONS_TOLD);
  }
}

class Loop {
  readonly verdicts: Record<string, number> = {};
  readonly causes: Record<string, number> = {};
  greatest: LoopCount['greatest_index'] = null;
  readonly reasons = new Reasons();
}

type Bins = Readonly<Record<TrendName, { sum: Float64Array; n: Uint32Array }>>;

export class ReplayTally {
  readonly #options: TallyOptions;
  readonly #offsets: Offsets;
  readonly #step_ms: number;
  readonly #states: Record<string, number> = {};
  readonly #days = new Map<string, Sums>();
  readonly #loops = new Map<string, Loop>();
  readonly #metrics = new Map<string, Counter>();
  readonly #points = new Map<string, Counter>();
  readonly #alarms: AlarmSeen[] = [];
  readonly #trends: Bins;
  #recorded = 0;
  #events = 0;

  constructor(options: TallyOptions) {
    const { site, interval_s, span } = options;
    this.#options = options;
    this.#offsets = zoneOffsets(site.time_zone);
    const grid = 1000 * interval_s;
    this.#step_ms = grid * Math.max(1, Math.ceil((span.to - span.from) / grid / LIMITS.replay_trend_bins_max));
    const bins = Math.ceil((span.to - span.from) / this.#step_ms);
    const empty = (): { sum: Float64Array; n: Uint32Array } => ({
      sum: new Float64Array(bins),
      n: new Uint32Array(bins),
    });
    this.#trends = Object.fromEntries(TRENDS.map((name) => [name, empty()])) as Bins;
  }

  add({ record, events }: MinuteOutcome, time: number, loops: ValvesPayload['loops']): void {
    this.#recorded += 1;
    increase(this.#states, record.state);
    for (const [name, figure] of Object.entries(record.points)) counter(this.#points, name).add(figure);
    if (!STANDING.has(record.state)) {
      for (const [name, figure] of Object.entries(record.figures)) counter(this.#metrics, name).add(figure);
      this.#trend(record.figures, time);
    }
    this.#sum(seasonMinute(toStored(record), time), time);
    for (const [name, loop] of Object.entries(loops)) this.#loop(name, loop, record.time);
    for (const { change, report } of events) {
      this.#events += 1;
      if (this.#alarms.length >= LIMITS.replay_alarms_max) continue;
      const { id, title, priority, value, limit, unit, action } = report;
      const found = report.evidence.slice(0, EVIDENCE_TOLD).map((each) => `${each.name}: ${each.found}`);
      const more = report.evidence.length - found.length;
      if (more > 0) found.push(`${more} more`);
      const seen = { id, title, priority, change, time: record.time, value, limit, unit };
      this.#alarms.push({ ...seen, found: found.join('; '), action });
    }
  }

  summary(): ChillerSummary {
    const { chiller, site, interval_s, span } = this.#options;
    const days = daysOf(span, this.#offsets);
    const sums = days.map(({ name }) => this.#days.get(name) ?? NO_SUMS);
    const { time_zone, tariff } = site;
    return {
      intervals_due: Math.round((span.to - span.from) / 1000 / interval_s),
      intervals_recorded: this.#recorded,
      states: this.#states,
      season: season({ chiller, time_zone, tariff, ...span, days, sums }),
      loops: Object.fromEntries([...this.#loops].map(([name, loop]) => [name, loopCount(loop)])),
      alarms: this.#alarms,
      alarms_left_out: this.#events - this.#alarms.length,
      metrics: counts(this.#metrics),
      points: counts(this.#points),
      trends: this.trends,
    };
  }

  get trends(): TrendBins {
    const mean = ({ sum, n }: Bins[TrendName]): (number | null)[] =>
      Array.from(sum, (total, index) => (n[index] === 0 ? null : total / (n[index] as number)));
    const values = Object.fromEntries(TRENDS.map((name) => [name, mean(this.#trends[name])] as const)) as Record<
      TrendName,
      (number | null)[]
    >;
    return { from: rfc3339(this.#options.span.from), step_s: this.#step_ms / 1000, values };
  }

  #trend(figures: Readonly<Record<string, Figure>>, time: number): void {
    // An interval belongs to the stretch that its end closes.
    const bin = Math.ceil((time - this.#options.span.from) / this.#step_ms) - 1;
    for (const name of TRENDS) {
      const value = figures[name]?.value ?? null;
      const { sum, n } = this.#trends[name];
      if (value === null || bin < 0 || bin >= sum.length) continue;
      sum[bin] = (sum[bin] as number) + value;
      n[bin] = (n[bin] as number) + 1;
    }
  }

  #sum(minute: ReturnType<typeof seasonMinute>, time: number): void {
    if (minute === null) return;
    // The interval that ends at midnight is the last of the day before.
    const day = localDate(time - 1, this.#offsets);
    this.#days.set(day, addSums(this.#days.get(day) ?? NO_SUMS, sumsOf(minute)));
  }

  #loop(name: string, { verdict, cause, index, period_s, reason }: LoopFound, time: string): void {
    let loop = this.#loops.get(name);
    if (loop === undefined) {
      loop = new Loop();
      this.#loops.set(name, loop);
    }
    increase(loop.verdicts, verdict);
    if (verdict === 'hunting' && cause !== null) increase(loop.causes, cause);
    if (reason !== null) loop.reasons.add(reason);
    if (index !== null && index > (loop.greatest?.index ?? -1)) loop.greatest = { index, time, period_s };
  }
}

type LoopFound = Pick<LoopPayload, 'verdict' | 'cause' | 'index' | 'period_s' | 'reason'>;

function loopCount({ verdicts, causes, greatest, reasons }: Loop): LoopCount {
  return { verdicts, causes, greatest_index: greatest, reasons: reasons.list() };
}

function increase(counts: Record<string, number>, key: string): void {
  counts[key] = (counts[key] ?? 0) + 1;
}

function counter(counters: Map<string, Counter>, name: string): Counter {
  let found = counters.get(name);
  if (found === undefined) {
    found = new Counter();
    counters.set(name, found);
  }
  return found;
}

function counts(counters: ReadonlyMap<string, Counter>): Record<string, FigureCount> {
  return Object.fromEntries([...counters].map(([name, each]) => [name, each.count()]));
}
