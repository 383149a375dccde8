/**
 * How an agent is: from its own API where it runs, from its store where it does not. What is found is a value; whether
 * that is healthy is judged in one place.
 */
import { LIMITS } from './base/limits.ts';
import type { Result } from './base/result.ts';
import { parseRfc3339, rfc3339 } from './base/time.ts';
import { HistoryReader } from './history/reader.ts';
import type { StoredRecord } from './history/types.ts';
import type { Site } from './site/site.ts';
import { type AgentAnswers, type AlarmStatus, askAgent } from './status-ask.ts';
import type { LinkFigure } from './web/types.ts';

/** Minutes of the last day that are not there, by their ends; nothing is known of an agent that was never started. */
export interface GapFigure {
  readonly minutes_missing: number;
  /** The longest: end of the last minute before it, and of the first after it; null: none is missing. */
  readonly longest: { readonly from: string; readonly to: string; readonly minutes: number } | null;
}

export interface ChillerStatus {
  readonly chiller: string;
  /** End of the newest minute; null: none yet. */
  readonly last_minute: string | null;
  readonly age_s: number | null;
  readonly sequence: number | null;
  readonly state: string | null;
  /** Null where the agent does not run. */
  readonly link: LinkFigure | null;
  readonly points_read: number | null;
  readonly points_mapped: number;
  readonly gaps: GapFigure | null;
}

export interface SinkStatusFigure {
  readonly sink: string;
  /** Null where the agent does not run. */
  readonly state: string | null;
  readonly waiting: number;
  readonly waiting_bytes: number;
}

/** Null figures where the agent does not run. */
export interface NodeRedStatus {
  readonly state: string | null;
  readonly starts: number | null;
  /** Times that it ended or could not be started. */
  readonly failures: number | null;
}

export interface StatusFigure {
  readonly site: string;
  readonly name: string;
  readonly time: string;
  readonly running: boolean;
  readonly url: string | null;
  /** Of the running agent. */
  readonly version: string | null;
  readonly healthy: boolean;
  /** What is wrong with the agent, its links and its sinks; alarms are of the machine. */
  readonly faults: readonly string[];
  readonly chillers: readonly ChillerStatus[];
  readonly sinks: readonly SinkStatusFigure[];
  /** Null: the site file hosts none. */
  readonly node_red: NodeRedStatus | null;
  readonly alarms: readonly AlarmStatus[];
}

const DAY_MS = 86_400_000;

export async function agentStatus(site: Site, now: number): Promise<StatusFigure> {
  const asked = await askAgent(site);
  const agent = asked.ok ? asked.value : null;
  const opened = HistoryReader.open(site.history.folder);
  const reader = opened.ok ? opened.value : null;
  try {
    const faults = [asked, opened].flatMap((each) => (each.ok ? [] : [each.fault.message]));
    if (agent?.trouble != null) faults.push(agent.trouble);
    const missing: string[] = [];
    const take = <T>(read: (reader: HistoryReader) => Result<T>): T | null => {
      const found = reader === null || missing.length > 0 ? null : read(reader);
      if (found !== null && !found.ok) missing.push(found.fault.message);
      return found?.ok === true ? found.value : null;
    };
    const chillers = site.chillers.map(({ id, points }) => {
      const newest = take((each) => each.latestMinute(id));
      const day = take((each) => each.minutes({ chiller: id, from: now - DAY_MS, to: now, names: new Set() }));
      const gaps = day === null ? null : gapsOf(day, site.interval_s);
      return chillerStatus({ id, mapped: points.length, newest, gaps, agent, now });
    });
    const waiting = take((each) => each.waiting()) ?? [];
    const open = take((each) => each.openAlarms()) ?? [];
    const alarms = open.map(({ chiller, id, state, priority, time }) => ({
      chiller,
      id,
      state,
      priority,
      since: rfc3339(time),
    }));
    const sinks = sinkNames(site, agent).map((sink) => {
      const { messages = 0, bytes = 0 } = waiting.find((each) => each.sink === sink) ?? {};
      return { sink, state: agent?.sinks[sink] ?? null, waiting: messages, waiting_bytes: bytes };
    });
    const node_red = site.node_red === null ? null : (agent?.node_red ?? NO_NODE_RED);
    faults.push(
      ...nodeRedFaults(node_red),
      ...missing,
      ...chillers.flatMap((each) => chillerFaults(each, site)),
      ...sinks.flatMap(sinkFaults),
    );
    return {
      site: site.id,
      name: site.name,
      time: rfc3339(now),
      running: agent !== null,
      url: agent?.url ?? null,
      version: agent?.version ?? null,
      healthy: faults.length === 0,
      faults,
      chillers,
      sinks,
      node_red,
      alarms: agent?.alarms ?? alarms,
    };
  } finally {
    reader?.close();
  }
}

function sinkNames(site: Site, agent: AgentAnswers | null): string[] {
  const asked = Object.entries({ mqtt: site.mqtt, influx: site.influx, mail: site.mail });
  const named = asked.flatMap(([name, sink]) => (sink === null ? [] : [name]));
  return [...new Set([...named, ...Object.keys(agent?.sinks ?? {})])];
}

const NO_NODE_RED: NodeRedStatus = { state: null, starts: null, failures: null };

function nodeRedFaults(found: NodeRedStatus | null): string[] {
  if (found?.state !== 'ended' && found?.state !== 'silent') return [];
  const is = found.state === 'ended' ? 'does not run' : 'does not answer';
  return [
    `Node-RED ${is}, its flows stand still: failures since the agent started: ${found.failures}; the log says why`,
  ];
}

interface ChillerFound {
  readonly id: string;
  readonly mapped: number;
  readonly newest: StoredRecord | null;
  readonly gaps: GapFigure | null;
  readonly agent: AgentAnswers | null;
  readonly now: number;
}

function chillerStatus({ id, mapped, newest, gaps, agent, now }: ChillerFound): ChillerStatus {
  const live = agent?.chillers[id] ?? null;
  // A running agent whose store takes nothing is ahead of it.
  const last = live?.time ?? (newest === null ? null : rfc3339(newest.time));
  const ended = last === null ? null : parseRfc3339(last);
  return {
    chiller: id,
    last_minute: last,
    age_s: ended === null ? null : Math.round((now - ended) / 1000),
    sequence: live?.sequence ?? newest?.sequence ?? null,
    state: live?.state ?? stateOf(newest),
    link: live?.link ?? null,
    points_read: live?.points_read ?? null,
    points_mapped: mapped,
    gaps,
  };
}

function stateOf(newest: StoredRecord | null): string | null {
  try {
    const { state } = JSON.parse(newest?.record ?? '') as { state?: unknown };
    return typeof state === 'string' ? state : null;
  } catch {
    return null;
  }
}

/** Between the stored minutes; what is missing before the first of them was perhaps never asked for. */
export function gapsOf(minutes: readonly Pick<StoredRecord, 'time'>[], interval_s: number): GapFigure {
  const step = 1000 * interval_s;
  const ends = minutes.map(({ time }) => time).sort((a, b) => a - b);
  let [total, longest]: [number, GapFigure['longest']] = [0, null];
  for (const [index, end] of ends.entries()) {
    const before = ends[index - 1] ?? end;
    const missing = Math.max(0, Math.round((end - before) / step) - 1);
    total += missing;
    if (missing > (longest?.minutes ?? 0)) longest = { from: rfc3339(before), to: rfc3339(end), minutes: missing };
  }
  return { minutes_missing: total, longest };
}

function chillerFaults({ chiller, link, age_s, last_minute }: ChillerStatus, { interval_s }: Site): string[] {
  const faults: string[] = [];
  // Without an agent there is one fault: that it does not run.
  if (link === null) return faults;
  if (link.state !== 'connected')
    faults.push(`${chiller}: controller ${link.state}: ${link.reason ?? 'no reason given'}`);
  if (last_minute === null) faults.push(`${chiller}: no minute is solved yet`);
  else if (age_s !== null && age_s > 2 * interval_s + LIMITS.stop_s_max)
    faults.push(`${chiller}: the last minute ended ${age_s} s ago, one is due every ${interval_s} s`);
  return faults;
}

function sinkFaults({ sink, state, waiting }: SinkStatusFigure): string[] {
  if (state === null || state === 'connected' || (state === 'connecting' && waiting === 0)) return [];
  return [`sink ${sink}: ${state}, ${waiting} messages wait; the log says why`];
}
