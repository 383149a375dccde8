/** What a replay found, as one object, and as a few lines for a terminal. */
import { basename, join } from 'node:path';
import { rfc3339 } from '../base/time.ts';
import type { ReplayCounts } from '../replay.ts';
import type { ChillerSummary, ReplayTally } from '../replay-tally.ts';
import type { Span } from '../season/zone.ts';
import type { Site } from '../site/site.ts';
import type { TrendMapFile } from '../site/trend-map.ts';
import type { TrendChiller } from '../site/trend-points.ts';
import type { Scanned } from '../sources/trend/scan.ts';
import type { Trouble } from '../sources/trend/troubles.ts';
import { VERSION } from '../version.ts';
import { ALARMS, MINUTES, REPORT, SUMMARY } from './replay-files.ts';

export interface ExportSummary {
  readonly file: string;
  readonly bytes: number;
  readonly lines: number;
  readonly rows: number;
  /** First and last reading, RFC 3339 UTC. */
  readonly first: string;
  readonly last: string;
  readonly step_s: number | null;
  /** False: lines were not in the order of their times, and were sorted. */
  readonly ordered: boolean;
  readonly time_zone: string;
  /** Lines in an hour that came twice, and how they were taken. */
  readonly repeated_hour: { readonly lines: number; readonly taken: TrendMapFile['time']['repeated_hour'] };
  /** Lines that could not be read at all. */
  readonly bad_lines: { readonly count: number; readonly kinds: readonly Trouble[] };
  readonly readings: number;
  /** Cells that say that nothing was measured, and cells with a word that is no number. */
  readonly missing: number;
  readonly text: { readonly count: number; readonly kinds: readonly Trouble[] };
  /** Readings whose status was not good. */
  readonly status: { readonly count: number; readonly kinds: readonly Trouble[] };
  readonly repeated_readings: number;
  readonly conflicting_readings: number;
  readonly columns_unused: readonly string[];
  readonly notices: readonly string[];
}

export interface ReplaySummary {
  readonly version: string;
  readonly site: string;
  readonly interval_s: number;
  /** Of the intervals: from the start of the first to the end of the last. */
  readonly from: string;
  readonly to: string;
  /** Intervals left out in holes of the export. */
  readonly intervals_left_out: number;
  readonly export: ExportSummary;
  readonly chillers: Readonly<Record<string, ChillerSummary>>;
}

const NAMES_TOLD = 200;

export interface SummaryParts {
  readonly call: { readonly file: string };
  readonly site: Site;
  readonly opened: { readonly map: TrendMapFile };
  readonly bytes: number;
  readonly scanned: Scanned;
  readonly chillers: readonly TrendChiller[];
  readonly notices: readonly string[];
  readonly interval_s: number;
  readonly span: Span;
  readonly counts: ReplayCounts;
  readonly tallies: readonly ReplayTally[];
}

export function summaryOf(parts: SummaryParts): ReplaySummary {
  const { site, interval_s, span, counts, chillers, tallies } = parts;
  return {
    version: VERSION,
    site: site.id,
    interval_s,
    from: rfc3339(span.from),
    to: rfc3339(span.to),
    intervals_left_out: counts.skipped,
    export: exportSummary(parts),
    chillers: Object.fromEntries(
      chillers.map(({ chiller }, index) => [chiller.id, (tallies[index] as ReplayTally).summary()]),
    ),
  };
}

function exportSummary({ call, site, opened, bytes, scanned, chillers, notices, counts }: SummaryParts): ExportSummary {
  const { map } = opened;
  const used = new Set(chillers.flatMap(({ points }) => points.map(({ column }) => column)));
  const times = new Set([map.time.column].flat());
  return {
    file: basename(call.file),
    bytes,
    lines: scanned.lines,
    rows: scanned.rows,
    first: rfc3339(scanned.first),
    last: rfc3339(scanned.last),
    step_s: scanned.step_s,
    ordered: scanned.ordered,
    time_zone: map.time.zone ?? site.time_zone,
    repeated_hour: { lines: scanned.repeated_hour, taken: map.time.repeated_hour },
    bad_lines: { count: scanned.bad_lines, kinds: scanned.troubles },
    readings: counts.readings,
    missing: counts.missing,
    text: { count: counts.text.count, kinds: counts.text.list() },
    status: { count: counts.status.count, kinds: counts.status.list() },
    repeated_readings: counts.repeated,
    conflicting_readings: counts.conflicting,
    columns_unused: scanned.names.filter((name) => !used.has(name) && !times.has(name)).slice(0, NAMES_TOLD),
    notices,
  };
}

/** For a terminal: the figures that matter, what was wrong, and where the rest is. */
export function summaryText(summary: ReplaySummary, folder: string): string {
  const { export: read } = summary;
  const lines = [
    `${read.file}: ${read.rows} lines of readings from ${read.first} to ${read.last}` +
      `${read.step_s === null ? '' : `, usually ${read.step_s} s apart`}; intervals of ${summary.interval_s} s`,
  ];
  for (const [id, { intervals_due, intervals_recorded, season, alarms }] of Object.entries(summary.chillers)) {
    const { kw_per_ton, uncertainty, ton_hours, kwh, minutes_used, minutes_due } = season;
    const ratio =
      kw_per_ton === null
        ? (season.reasons['kw_per_ton'] ?? 'no kW/ton')
        : `${kw_per_ton.toFixed(3)} ± ${uncertainty.kw_per_ton?.toFixed(3) ?? '?'} kW/ton`;
    lines.push(
      `${id}: ${intervals_recorded} of ${intervals_due} intervals, ${Math.round(minutes_used)} of ${Math.round(minutes_due)} minutes used; ` +
        `${ratio}, ${whole(ton_hours)} ton-hours, ${whole(kwh)} kWh; ` +
        `${alarms.filter(({ change }) => change === 'raised').length} alarms raised`,
    );
  }
  lines.push(...troublesText(summary), `${[MINUTES, ALARMS, SUMMARY].join(', ')} and ${join(folder, REPORT)}`);
  return `${lines.join('\n')}\n`;
}

function whole(value: number | null): string {
  return value === null ? '-' : String(Math.round(value));
}

/** One sentence a kind of trouble, with its first lines. */
export function troublesText({ export: read, intervals_left_out }: ReplaySummary): string[] {
  const at = ({ what, count, lines }: Trouble): string =>
    `${count} x ${what} (line ${lines.slice(0, 5).join(', ')}${count > Math.min(5, lines.length) ? ', ...' : ''})`;
  const told = (name: string, { count, kinds }: { count: number; kinds: readonly Trouble[] }): string[] =>
    count === 0 ? [] : [`${name}: ${kinds.slice(0, 5).map(at).join('; ')}${kinds.length > 5 ? '; ...' : ''}`];
  return [
    ...told('lines not read', read.bad_lines),
    ...told('no number', read.text),
    ...told('status not good', read.status),
    ...(read.ordered ? [] : ['lines were not in the order of their times: sorted']),
    ...(read.repeated_hour.lines > 0
      ? [
          `${read.repeated_hour.lines} lines in an hour that came twice (clocks went back): taken by ${read.repeated_hour.taken}`,
        ]
      : []),
    ...(read.repeated_readings > 0 ? [`${read.repeated_readings} readings came twice: counted once`] : []),
    ...(read.conflicting_readings > 0
      ? [`${read.conflicting_readings} readings contradict another of the same time: the last one counts`]
      : []),
    ...(intervals_left_out > 0 ? [`${intervals_left_out} intervals left out in long holes of the export`] : []),
    ...read.notices,
  ];
}
