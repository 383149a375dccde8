/** What a replay found, as one object, and as a few lines for a terminal. */
import { basename, join } from 'node:path';
import { rfc3339 } from '../base/time.ts';
import type { ReplayCounts } from '../replay.ts';
import type { ReplayTally } from '../replay-tally.ts';
import type { Span } from '../season/zone.ts';
import type { Site } from '../site/site.ts';
import type { TrendMapFile } from '../site/trend-map.ts';
import type { TrendChiller } from '../site/trend-points.ts';
import type { Scanned } from '../sources/trend/scan.ts';
import { VERSION } from '../version.ts';
import type { ExportSummary, ReplaySummary } from '../web/replay-types.ts';
import { troublesText } from '../web/replay-words.ts';
import { ALARMS, MINUTES, REPORT, SUMMARY } from './replay-files.ts';

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
        `alarms raised: ${alarms.filter(({ change }) => change === 'raised').length}`,
    );
  }
  lines.push(...troublesText(summary), `${[MINUTES, ALARMS, SUMMARY].join(', ')} and ${join(folder, REPORT)}`);
  return `${lines.join('\n')}\n`;
}

function whole(value: number | null): string {
  return value === null ? '-' : String(Math.round(value));
}
