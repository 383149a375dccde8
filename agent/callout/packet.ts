/**
 * The callout packet: what a technician wants before driving out, of one alarm in the minute in which it was raised.
 * Plain JSON in catalogue units; the page that people read is made from it. Bounded: what does not fit is left out from
 * the end, and named.
 */
import type { AlarmReport } from '../alarms/evaluate.ts';
import type { Message } from '../base/delivery.ts';
import { LIMITS } from '../base/limits.ts';
import { parseRfc3339, rfc3339 } from '../base/time.ts';
import type { CircuitFigure } from '../cycle/circuit-figure.ts';
import type { CycleState } from '../cycle/types.ts';
import { type SplitFigures, splitFigures } from '../metrics/figures.ts';
import type { FaultId } from './candidates.ts';
import { FAULTS } from './candidates.ts';
import { type Caution, cautionsOf } from './cautions.ts';
import { type CalloutMinute, figureOf, type TrendColumns } from './minute.ts';
import { eventName } from './notice.ts';
import { type Sure, sureOf } from './sure.ts';
import { type Cause, weigh } from './weigh.ts';

export interface CalloutSite {
  readonly id: string;
  readonly name: string;
  readonly time_zone: string;
  readonly unit_system: 'ip' | 'si';
  readonly barometer_kpa: number;
  readonly interval_s: number;
}

export interface CalloutChiller {
  readonly id: string;
  readonly name: string;
  readonly arrangement: string;
  readonly circuit: CircuitFigure | null;
  /** As the site file names it, and as people write it. */
  readonly refrigerant: string;
  readonly refrigerant_label: string;
  readonly rated_capacity_kw: number;
  /** kPa absolute, of the diagram. */
  readonly pressure_window: readonly [number, number];
}

export interface CalloutTrend {
  readonly name: string;
  readonly unit: string;
  readonly step_s: number;
  /** RFC 3339: what the rows count from. */
  readonly from: string;
  /** Seconds from `from`, least and greatest of the bucket. */
  readonly points: readonly (readonly [number, number | null, number | null])[];
}

export interface CalloutWork {
  readonly time: string;
  readonly kind: string;
  readonly text: string;
  readonly mass_kg: number | null;
}

export interface CalloutPacket extends Pick<CalloutMinute, 'time' | 'sequence'> {
  /** Of this shape. */
  readonly form: 1;
  /** `<alarm>.<sequence>`: names the event within its chiller. */
  readonly event: string;
  /** When the packet was made. */
  readonly made: string;
  readonly version: string;
  readonly site: CalloutSite;
  readonly chiller: CalloutChiller;
  readonly alarm: AlarmReport;
  readonly how_sure: Sure;
  /** Most likely first. */
  readonly causes: readonly Cause[];
  /** What to look at first on site, in order. */
  readonly first_checks: readonly string[];
  readonly cautions: readonly Caution[];
  readonly machine: SplitFigures &
    Pick<CalloutMinute, 'state' | 'state_since' | 'economizer' | 'points' | 'states' | 'ghost'>;
  readonly other_alarms: readonly Pick<AlarmReport, 'id' | 'title' | 'priority' | 'state' | 'since'>[];
  readonly trends: readonly CalloutTrend[];
  readonly maintenance: readonly CalloutWork[];
  /** What was left out to keep the packet within its bound. */
  readonly left_out: readonly string[];
}

export interface CalloutInput {
  readonly version: string;
  /** ms since the epoch. */
  readonly made: number;
  readonly site: CalloutSite;
  readonly chiller: CalloutChiller;
  readonly alarm: AlarmReport;
  readonly minute: CalloutMinute;
  readonly trends: readonly TrendColumns[];
  readonly maintenance: readonly CalloutWork[];
  readonly units: (name: string) => string | null;
}

/** Checks that a packet begins with: of its first causes, each once. */
const FIRST_CHECKS_MAX = 7;
const CAUSES_FOR_CHECKS = 3;

export function makePacket(input: CalloutInput): CalloutPacket {
  const { alarm, minute, chiller } = input;
  const side = sideOf(alarm);
  const watched = alarm.metric === null ? null : figureOf(minute, alarm.metric);
  const causes = weigh({
    alarm: { id: alarm.id, watch: alarm.metric, side },
    minute,
    trends: new Map(input.trends.map((each) => [each.name, each])),
    start: parseRfc3339(minute.time) ?? 0,
    units: input.units,
  });
  const { state, state_since, economizer, points, figures } = minute;
  return bounded({
    form: 1,
    event: eventName({ id: alarm.id, sequence: minute.sequence }),
    made: rfc3339(input.made),
    time: minute.time,
    sequence: minute.sequence,
    version: input.version,
    site: input.site,
    chiller,
    alarm,
    how_sure: sureOf({ value: alarm.value, limit: alarm.limit, unit: alarm.unit, side }, watched),
    causes,
    first_checks: firstChecks(causes, alarm),
    cautions: cautionsOf(
      new Set(causes.flatMap(({ fault }) => FAULTS[fault as FaultId].cautions)),
      chiller.refrigerant,
    ),
    machine: {
      state,
      state_since,
      economizer,
      ...splitFigures(figures),
      points,
      states: rounded(minute.states),
      ghost: rounded(minute.ghost),
    },
    other_alarms: minute.alarms
      .filter(({ id }) => id !== alarm.id)
      .map(({ id, title, priority, state: its, since }) => ({ id, title, priority, state: its, since })),
    trends: byCause(input.trends, causes, alarm.metric).slice(0, LIMITS.callout_trends_max).map(trendOf),
    maintenance: input.maintenance.slice(-LIMITS.callout_log_max),
    left_out: [],
  });
}

/** Which way the limit lies; where nothing says so, by where the value is. */
export function sideOf({ condition, value, limit }: AlarmReport): 'above' | 'below' {
  if (condition !== null && condition !== undefined) return condition.side;
  return value !== null && limit !== null && value < limit ? 'below' : 'above';
}

/**
 * What the site file says first, then every check of what the figures speak for, then those of the next causes, one of
 * each at a time.
 */
function firstChecks(causes: readonly Cause[], alarm: AlarmReport): string[] {
  const spoken = causes.filter(({ says }) => says === 'for').slice(0, CAUSES_FOR_CHECKS);
  const likely = causes.filter(({ says }) => says === 'open').slice(0, CAUSES_FOR_CHECKS);
  const rounds = Math.max(0, ...likely.map(({ checks }) => checks.length));
  const found = alarm.action === '' ? [] : [alarm.action];
  found.push(...spoken.flatMap(({ checks }) => checks));
  for (let round = 0; round < rounds; round += 1)
    for (const { checks } of likely) if (checks[round] !== undefined) found.push(checks[round] as string);
  return [...new Set(found)].slice(0, FIRST_CHECKS_MAX);
}

/** The watched figure first, then the signs of the causes as they are ranked, then the rest. */
function byCause(trends: readonly TrendColumns[], causes: readonly Cause[], watch: string | null): TrendColumns[] {
  const names = [watch, ...causes.flatMap(({ signs }) => signs.map(({ name }) => name))];
  const place = ({ name }: TrendColumns): number => (names.includes(name) ? names.indexOf(name) : names.length);
  return trends
    .filter(({ buckets }) => buckets.some(({ mean }) => mean !== null))
    .sort((one, other) => place(one) - place(other));
}

function trendOf({ name, unit, step_s, buckets }: TrendColumns): CalloutTrend {
  const from = (buckets[0]?.time ?? 0) - step_s * 1000;
  return {
    name,
    unit,
    step_s,
    from: rfc3339(from),
    points: buckets.map(({ time, least, greatest }) => [(time - from) / 1000, short(least), short(greatest)]),
  };
}

function short(value: number | null): number | null {
  return value === null ? null : Number(value.toPrecision(5));
}

function rounded(states: Readonly<Record<string, CycleState>>): Record<string, CycleState> {
  const digits = (value: number): number => Number(value.toPrecision(7));
  return Object.fromEntries(
    Object.entries(states).map(([name, { T, p, h, s, q, m }]) => [
      name,
      {
        T: digits(T),
        p: digits(p),
        h: digits(h),
        s: digits(s),
        q: q === null ? null : digits(q),
        m: m === null ? null : digits(m),
      },
    ]),
  );
}

/** Leaves out trends from the last, then the log, then the other alarms, until the packet is within its bound. */
function bounded(packet: CalloutPacket): CalloutPacket {
  let kept = packet;
  const left: string[] = [];
  while (JSON.stringify(kept).length > LIMITS.callout_bytes_max) {
    const trend = kept.trends.at(-1);
    if (trend !== undefined) {
      left.push(`trend of ${trend.name}`);
      kept = { ...kept, trends: kept.trends.slice(0, -1), left_out: left };
    } else if (kept.maintenance.length > 0) {
      left.push('maintenance log');
      kept = { ...kept, maintenance: [], left_out: left };
    } else if (kept.other_alarms.length > 0) {
      left.push('other alarms');
      kept = { ...kept, other_alarms: [], left_out: left };
    } else break;
  }
  return kept;
}

/** `<root>/<chiller>/callout`, not retained: the newest packet is no state. */
export function packetMessage(packet: CalloutPacket, root: string): Message {
  return {
    sink: 'mqtt',
    address: `${root}/${packet.chiller.id}/callout`,
    payload: JSON.stringify(packet),
    retain: false,
    chiller: packet.chiller.id,
    sequence: packet.sequence,
  };
}
