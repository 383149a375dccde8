/** `status` as a person reads it. Times are those of the site. */
import { parseRfc3339 } from '../base/time.ts';
import { localTime, type Offsets } from '../season/zone.ts';
import type { ChillerStatus, GapFigure, NodeRedStatus, SinkStatusFigure, StatusFigure } from '../status.ts';

export function statusText(status: StatusFigure, offsets: Offsets): string {
  const at = (time: string): string => localTime(parseRfc3339(time) ?? 0, offsets);
  const { running, url, version, alarms } = status;
  const lines = [
    `${status.name} (${status.site}), ${at(status.time)}: ${status.healthy ? 'healthy' : 'NOT HEALTHY'}`,
    row(
      'agent',
      running ? `running, version ${version}, page ${url}` : 'not running; what follows is from its history',
    ),
    ...status.chillers.flatMap((each) => chillerLines(each, at)),
    ...status.sinks.map((each) => row(`to ${each.sink}`, sinkText(each))),
    ...nodeRedLines(status.node_red),
    ...(alarms.length === 0 ? [row('alarms', 'none')] : []),
    ...alarms.map(({ chiller, id, state, priority, since }) =>
      row('alarm', `${chiller} ${id}, priority ${priority}, ${state} since ${at(since)}`),
    ),
    ...status.faults.map((fault) => row('fault', fault)),
  ];
  return `${lines.join('\n')}\n`;
}

function row(name: string, text: string): string {
  return `  ${name.padEnd(12)} ${text}`;
}

function chillerLines(status: ChillerStatus, at: (time: string) => string): string[] {
  const { chiller, last_minute, age_s, sequence, state, link, points_read, points_mapped, gaps } = status;
  if (last_minute === null) return [row(chiller, `no minute yet${linkText(link, at)}`)];
  const points = points_read === null ? '' : `, ${points_read} of ${points_mapped} points read`;
  const minute = `minute ${sequence} ended ${at(last_minute)} (${ageText(age_s)} ago), ${state ?? 'state unknown'}`;
  return [
    row(chiller, `${minute}${linkText(link, at)}${points}`),
    ...(gaps === null ? [] : [row('', gapText(gaps, at))]),
  ];
}

function linkText(link: ChillerStatus['link'], at: (time: string) => string): string {
  if (link === null) return '';
  return `, controller ${link.state} since ${at(link.since)}`;
}

function gapText({ minutes_missing, longest }: GapFigure, at: (time: string) => string): string {
  if (longest === null) return 'no minute is missing in the last 24 h';
  const { from, to, minutes } = longest;
  return `${minutes_missing} minutes missing in the last 24 h, ${minutes} of them from ${at(from)} to ${at(to)}`;
}

function sinkText({ state, waiting, waiting_bytes }: SinkStatusFigure): string {
  const queue = waiting === 0 ? 'nothing waits' : `${waiting} messages wait (${Math.ceil(waiting_bytes / 1000)} kB)`;
  return state === null ? queue : `${state}, ${queue}`;
}

function nodeRedLines(found: NodeRedStatus | null): string[] {
  if (found === null) return [];
  const { state, starts, failures } = found;
  return [row('Node-RED', state === null ? 'hosted' : `${state}, starts ${starts}, failures ${failures}`)];
}

function ageText(age_s: number | null): string {
  if (age_s === null) return '?';
  if (age_s < 120) return `${age_s} s`;
  if (age_s < 7200) return `${Math.round(age_s / 60)} min`;
  return age_s < 172_800 ? `${Math.round(age_s / 3600)} h` : `${Math.round(age_s / 86_400)} days`;
}
