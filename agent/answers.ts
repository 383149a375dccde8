/**
 * What the page and the API are answered: a view of the watches, the store and the site, from memory or one read,
 * never from a sink.
 */
import type { AlarmReport } from './alarms/evaluate.ts';
import type { Clock } from './base/clock.ts';
import { must, type Result } from './base/result.ts';
import { rfc3339 } from './base/time.ts';
import type { CalloutPacket } from './callout/packet.ts';
import { Callouts } from './callouts.ts';
import { diagram } from './cycle/diagram.ts';
import type { History } from './history/history.ts';
import { catalogue } from './metrics/catalogue.ts';
import { randomShares, splitFigures } from './metrics/figures.ts';
import { plantTotals } from './metrics/totals.ts';
import type { MinuteRecord } from './minute.ts';
import { pointDefinition } from './points/dictionary.ts';
import type { SourceStatus } from './points/types.ts';
import { refrigerant } from './refrigerant/refrigerants.ts';
import { monthStart } from './season/period.ts';
import type { SeasonAnswer } from './season/plant.ts';
import { zoneOffsets } from './season/zone.ts';
import { askedPeriod, type ReferenceShelf, seasonAnswer } from './seasons.ts';
import type { ChillerSite, Site } from './site/site.ts';
import { machineFacts, siteFacts } from './site-facts.ts';
import type { ChillerWatch } from './watch.ts';
import type {
  AlarmFigure,
  DiagramFigure,
  HistoryFigure,
  LinkFigure,
  Now,
  PlantFigure,
  SeasonQuestion,
  SiteFigure,
  WebData,
} from './web/types.ts';

export interface AnswersOptions {
  readonly site: Site;
  readonly version: string;
  readonly demo: boolean;
  readonly clock: Clock;
  readonly history: History;
  readonly watches: readonly ChillerWatch[];
  readonly shelf: ReferenceShelf;
  readonly links: () => Readonly<Record<string, SourceStatus>>;
  readonly trouble: () => string | null;
  readonly openMetrics: () => string;
}

export class Answers implements WebData {
  readonly #options: AnswersOptions;
  readonly #site: SiteFigure;
  readonly #callouts: Callouts;
  readonly #diagrams = new Map<string, DiagramFigure>();
  readonly #followers = new Set<(now: Now) => void>();

  constructor(options: AnswersOptions) {
    this.#options = options;
    this.#site = siteFigure(options);
    const { site, version, history, clock } = options;
    this.#callouts = new Callouts({ site, version, events: history.events, now: () => clock.now() });
  }

  site(): SiteFigure {
    return this.#site;
  }

  now(chiller: string): Now | null {
    const watch = this.#options.watches.find((each) => each.chiller.id === chiller);
    return watch === undefined ? null : this.#nowOf(watch);
  }

  /** Only minutes of the newest interval count together. */
  plant(): PlantFigure {
    const { watches } = this.#options;
    const time =
      watches
        .flatMap(({ record }) => record?.time ?? [])
        .sort()
        .at(-1) ?? null;
    const { running, unknown, figures } = plantTotals(
      watches.map(({ chiller, record }) => ({
        chiller: chiller.id,
        rated_capacity: chiller.machine.rated_capacity / 1000,
        state: record?.state ?? 'unknown',
        economizer: record?.economizer ?? 'unknown',
        figures: record?.figures ?? {},
        absent:
          record === null
            ? 'no minute solved yet'
            : record.time === time
              ? null
              : `its newest minute ended ${record.time}`,
      })),
    );
    return { time, chillers: watches.length, running, unknown, ...splitFigures(figures) };
  }

  diagram(chiller: string): DiagramFigure | null {
    const machine = this.#chiller(chiller);
    if (machine === undefined) return null;
    let found = this.#diagrams.get(chiller);
    if (found === undefined) {
      found = diagram(must(refrigerant(machine.machine.refrigerant)), machine.pressure_window);
      this.#diagrams.set(chiller, found);
    }
    return found;
  }

  history(chiller: string, metric: string, from: number, to: number, step_s: number): HistoryFigure | null {
    const machine = this.#chiller(chiller);
    const point = machine?.points.find((each) => each.name === metric);
    const unit = catalogue()[metric]?.unit ?? (point === undefined ? undefined : pointDefinition(point.name).unit);
    if (machine === undefined || unit === undefined) return null;
    const query = { chiller, name: metric, from, to, step_s };
    const { history } = this.#options;
    const trend = point?.fast === true ? history.fastSeries(query) : history.series(query);
    // A store that cannot be read is reported by itself; the page shows a gap, not a failure.
    const { step_s: step, buckets } = trend.ok ? trend.value : { step_s, buckets: [] };
    return {
      chiller,
      metric,
      unit,
      step_s: step,
      points: buckets.map(({ time, ...figures }) => ({ time: rfc3339(time), ...figures })),
    };
  }

  season({ chiller, from, to, step }: SeasonQuestion): Result<SeasonAnswer> {
    const { site, clock, history, shelf } = this.#options;
    const now = clock.now();
    const first = from ?? monthStart(now, zoneOffsets(site.time_zone));
    const period = askedPeriod(site, { from: first, to, step, now });
    if (!period.ok) return period;
    const asked = { chiller, period: period.value, step, now };
    return seasonAnswer(history, { site, shelf, asked });
  }

  alarms(): readonly AlarmFigure[] {
    return this.#options.watches.flatMap((watch) => watch.record?.alarms ?? []).map(alarmFigure);
  }

  callout(chiller: string, event: string): Result<CalloutPacket> {
    return this.#callouts.event(chiller, event);
  }

  trouble(): string | null {
    return this.#options.trouble();
  }

  openMetrics(): string {
    return this.#options.openMetrics();
  }

  follow(listener: (now: Now) => void): () => void {
    this.#followers.add(listener);
    return () => this.#followers.delete(listener);
  }

  /** A minute of this chiller is done. */
  tell(watch: ChillerWatch): void {
    if (this.#followers.size === 0) return;
    const now = this.#nowOf(watch);
    for (const follower of this.#followers) follower(now);
  }

  #chiller(id: string): ChillerSite | undefined {
    return this.#options.site.chillers.find((each) => each.id === id);
  }

  #nowOf(watch: ChillerWatch): Now {
    const { id, points } = watch.chiller;
    const { record } = watch;
    const status = this.#options.links()[id];
    return {
      chiller: id,
      ...(record === null ? this.#nothing() : found(record)),
      // What the page waits for: the site's interval, also beside a first minute that was cut short.
      interval_s: this.#options.site.interval_s,
      link: linkFigure(status),
      points_read: watch.pointsRead(),
      points_mapped: points.length,
    };
  }

  #nothing(): Omit<Now, 'chiller' | 'link' | 'points_read' | 'points_mapped' | 'interval_s'> {
    return {
      time: null,
      sequence: null,
      state: 'unknown',
      state_since: null,
      economizer: 'unknown',
      values: {},
      uncertainty: {},
      random_share: {},
      quality: {},
      points: {},
      states: {},
      ghost: {},
      reconciliation: null,
      alarms: [],
    };
  }
}

function found(record: MinuteRecord): Omit<Now, 'chiller' | 'link' | 'points_read' | 'points_mapped' | 'interval_s'> {
  const { figures, alarms, chiller: _chiller, interval_s: _length, standstill: _standstill, ...rest } = record;
  return { ...rest, ...splitFigures(figures), random_share: randomShares(figures), alarms: alarms.map(alarmFigure) };
}

function alarmFigure(report: AlarmReport): AlarmFigure {
  return report;
}

function linkFigure(status: SourceStatus | undefined): LinkFigure {
  if (status === undefined) return { state: 'stopped', since: rfc3339(0), reason: 'not started' };
  return { state: status.state, since: rfc3339(status.since), reason: status.reason };
}

function siteFigure({ site, version, demo }: AnswersOptions): SiteFigure {
  return {
    ...siteFacts(site),
    version,
    demo,
    chillers: site.chillers.map((chiller) => ({
      ...machineFacts(chiller),
      refrigerant: must(refrigerant(chiller.machine.refrigerant)).label,
    })),
    catalogue: catalogue(),
  };
}
