/** Makes callout packets: gathers what the store and the site know of an alarm, for the pure room that judges it. */
import type { AlarmReport } from './alarms/evaluate.ts';
import type { Message } from './base/delivery.ts';
import { LIMITS } from './base/limits.ts';
import { fail, must, ok, type Result } from './base/result.ts';
import { parseRfc3339, rfc3339 } from './base/time.ts';
import { type CalloutMinute, figureOf, type TrendColumns } from './callout/minute.ts';
import { eventName } from './callout/notice.ts';
import { type CalloutPacket, makePacket, packetMessage, sideOf } from './callout/packet.ts';
import { trendNames } from './callout/weigh.ts';
import type { EventReads } from './history/events.ts';
import type { JournalEntry } from './history/types.ts';
import { catalogue } from './metrics/catalogue.ts';
import type { MinuteOutcome } from './minute.ts';
import { POINTS } from './points/dictionary.ts';
import { refrigerant } from './refrigerant/refrigerants.ts';
import type { ChillerSite, Site } from './site/site.ts';
import { machineFacts, siteFacts } from './site-facts.ts';
import { fromStored } from './stored-minute.ts';

export interface RaisedEvent {
  readonly chiller: string;
  /** `<alarm>.<sequence>` */
  readonly event: string;
  /** ms since the epoch. */
  readonly time: number;
  readonly priority: number;
  readonly title: string;
}

export interface CalloutOptions {
  readonly site: Site;
  readonly version: string;
  readonly events: EventReads;
  readonly now: () => number;
}

/** Trends that are read for one packet; what of them is shown is fewer. */
const TRENDS_READ_MAX = 14;
/** The maintenance log is looked through this far back, ms. */
const LOG_MS = 2 * 366 * 86_400_000;

export class Callouts {
  readonly #options: CalloutOptions;

  constructor(options: CalloutOptions) {
    this.#options = options;
  }

  /** Messages of the alarms that a minute raised and nobody silenced, most urgent first; bounded. */
  messages(chiller: ChillerSite, { record, events }: MinuteOutcome, root: string): Message[] {
    const raised = events.filter(({ change, report }) => change === 'raised' && report.state === 'unacknowledged');
    return raised
      .map(({ report }) => report)
      .sort((a, b) => a.priority - b.priority)
      .slice(0, LIMITS.callouts_per_minute_max)
      .map((report) => packetMessage(this.packet(chiller, report, record), root));
  }

  /** The packet of an alarm that was raised in a minute. */
  packet(chiller: ChillerSite, alarm: AlarmReport, minute: CalloutMinute): CalloutPacket {
    const { site, version, now } = this.#options;
    const { machine } = chiller;
    return makePacket({
      version,
      made: now(),
      site: siteFacts(site),
      chiller: {
        ...machineFacts(chiller),
        name: chiller.name,
        refrigerant: machine.refrigerant,
        refrigerant_label: must(refrigerant(machine.refrigerant)).label,
      },
      alarm,
      minute,
      trends: this.#trends(chiller.id, alarm, minute),
      maintenance: this.#maintenance(chiller.id),
      units: unitOf,
    });
  }

  /** By its name, `<alarm>.<sequence>`, or by that of the alarm alone: the last time that it was raised. */
  event(chillerId: string, event: string): Result<CalloutPacket> {
    const { site, events } = this.#options;
    const chiller = site.chillers.find(({ id }) => id === chillerId);
    const [, alarm = '', number] = /^([a-z0-9-]{1,63})(?:\.(\d{1,15}))?$/.exec(event) ?? [];
    if (chiller === undefined || alarm === '')
      return fail('callout_unknown', `'${chillerId.slice(0, 60)}/${event.slice(0, 90)}' names no alarm of this site`);
    const sequence = number === undefined ? null : Number(number);
    const steps = events.alarmSteps({ chiller: chiller.id, alarm, sequence });
    if (!steps.ok) return steps;
    const raised = steps.value.flatMap(raisedBy)[0];
    if (raised === undefined) return fail('callout_unknown', `${chiller.id} has raised no alarm '${event}'`);
    const { entry, report } = raised;
    const stored = events.minuteOf({ chiller: chiller.id, sequence: entry.sequence, time: entry.time });
    if (!stored.ok) return stored;
    const minute = stored.value === null ? null : fromStored(JSON.parse(stored.value.record), chiller.id);
    if (minute === null)
      return fail('callout_unknown', `the minute ${rfc3339(entry.time)} of ${chiller.id} is no longer kept`);
    return ok(this.packet(chiller, report, minute));
  }

  /** Alarms that were raised lately, newest first, by the names of their events. */
  recent(chiller: string | null): Result<readonly RaisedEvent[]> {
    const steps = this.#options.events.recentSteps(chiller);
    if (!steps.ok) return steps;
    return ok(
      steps.value.flatMap(raisedBy).map(({ entry, report }) => ({
        chiller: entry.chiller,
        event: eventName({ id: entry.id, sequence: entry.sequence }),
        time: entry.time,
        priority: report.priority,
        title: report.title,
      })),
    );
  }

  #trends(chiller: string, alarm: AlarmReport, minute: CalloutMinute): TrendColumns[] {
    const { site, events, now } = this.#options;
    const start = parseRfc3339(minute.time) ?? 0;
    const from = start - LIMITS.callout_before_s * 1000;
    const to = Math.min(Math.max(start, now()), start + LIMITS.callout_after_s * 1000);
    const columns = (LIMITS.callout_before_s + LIMITS.callout_after_s) / LIMITS.callout_columns_max;
    const step_s = Math.max(site.interval_s, Math.ceil(columns));
    const watch = { id: alarm.id, watch: alarm.metric, side: sideOf(alarm) };
    const names = trendNames(watch, { economizer: minute.economizer !== 'none' })
      .filter((name) => figureOf(minute, name) !== null)
      .slice(0, TRENDS_READ_MAX);
    return names.flatMap((name) => {
      const unit = unitOf(name);
      // A trend that cannot be read is missing in the packet; the store reports it by itself.
      const trend = events.series({ chiller, name, from, to, step_s });
      if (unit === null || !trend.ok) return [];
      const { step_s: step, buckets } = trend.value;
      const value = figureOf(minute, name)?.value ?? null;
      // The minute that raises the alarm is not stored yet when its packet leaves with it.
      const own = buckets.some(({ time }) => time >= start) || value === null;
      const last = own ? [] : [{ time: start, least: value, greatest: value, mean: value }];
      return [{ name, unit, step_s: step, buckets: [...buckets, ...last] }];
    });
  }

  #maintenance(chiller: string) {
    const to = this.#options.now();
    const found = this.#options.events.maintenance({ chiller, from: to - LOG_MS, to });
    return (found.ok ? found.value : []).map(({ time, kind, text, mass_kg }) => ({
      time: rfc3339(time),
      kind,
      text,
      mass_kg,
    }));
  }
}

function unitOf(name: string): string | null {
  return catalogue()[name]?.unit ?? POINTS[name]?.unit ?? null;
}

function raisedBy(entry: JournalEntry): { entry: JournalEntry; report: AlarmReport }[] {
  const { change, ...report } = JSON.parse(entry.detail) as AlarmReport & { readonly change?: string };
  return change === 'raised' ? [{ entry, report: { ...report, chiller: entry.chiller } }] : [];
}
