/** `replay`: the same analysis as the live agent over a trend export. */
import { stat } from 'node:fs/promises';
import { type ParseArgsConfig, parseArgs } from 'node:util';
import { fail, ok, type Result } from '../base/result.ts';
import { rfc3339 } from '../base/time.ts';
import { formatIssues, loadSite } from '../config/load.ts';
import { type OpenedMap, openTrendMap } from '../config/load-map.ts';
import { type ReplayCounts, replay, replayInterval } from '../replay.ts';
import { ReplayTally } from '../replay-tally.ts';
import { issue, type SiteIssue } from '../site/issues.ts';
import type { Site } from '../site/site.ts';
import { type TrendChiller, trendPoints } from '../site/trend-points.ts';
import { rowsOf } from '../sources/trend/rows.ts';
import { type Scanned, scanTrend } from '../sources/trend/scan.ts';
import { offsetsOf, timeParser } from '../sources/trend/times.ts';
import { replayReport } from '../web/replay-report.ts';
import { fontRules } from '../web/replay-style.ts';
import type { ReplaySummary } from '../web/replay-types.ts';
import type { Command, CommandIo } from './io.ts';
import { Progress } from './progress.ts';
import { ReplayFiles } from './replay-files.ts';
import { summaryOf, summaryText } from './replay-summary.ts';

const OPTIONS = {
  config: { type: 'string' },
  map: { type: 'string' },
  out: { type: 'string' },
  json: { type: 'boolean' },
} as const satisfies ParseArgsConfig['options'];

const USAGE = `tonhour replay FILE --config FILE --map FILE --out FOLDER [--json]

The same analysis as the live agent over a trend export of a building automation system: a table of text (CSV), a column a point or a line a
reading. Every interval is solved, judged and summed as if the machine had been polled then; nothing is read from or written to a controller.

  FILE            the export
  --config FILE   the site file (config/README.md): the machines, and how sure each point is
  --map FILE      how the table is written, and which column is which point in which unit (config/trend-map.yaml is an example)
  --out FOLDER    minutes.ndjson (a line a minute and chiller: what MQTT would carry), alarms.ndjson, summary.json, report.html
  --json          the summary on standard output, instead of a short text

Lines that cannot be read are counted and told with their numbers; they cost themselves alone. Lines may stand in any order.
Exit code 0: done. 1: nothing could be replayed, or it was ended. 2: wrong call, site file or map.
`;

interface Call {
  readonly file: string;
  readonly config: string;
  readonly map: string;
  readonly out: string;
  readonly json: boolean;
}

function readCall(args: readonly string[]): Result<Call> {
  try {
    const { values, positionals } = parseArgs({ args: [...args], options: OPTIONS, allowPositionals: true });
    const [file, ...more] = positionals;
    if (file === undefined || more.length > 0) return fail('usage', 'name one file');
    const { config, map, out, json = false } = values;
    if (config === undefined) return fail('usage', '--config is missing');
    if (map === undefined) return fail('usage', '--map is missing');
    if (out === undefined) return fail('usage', '--out is missing');
    return ok({ file, config, map, out, json });
  } catch (error) {
    return fail('usage', (error as Error).message);
  }
}

export const command: Command = {
  summary: 'The same analysis over a trend export (CSV): minutes, alarms, a report',
  usage: USAGE,
  async run(args, io) {
    const call = readCall(args);
    if (!call.ok) {
      io.err.write(`tonhour replay: ${call.fault.message}\n\n${USAGE}`);
      return 2;
    }
    const site = await loadSite(call.value.config, { env: process.env });
    if (!site.ok) {
      io.err.write(formatIssues(site.fault));
      return 2;
    }
    const map = await openTrendMap(call.value.map, site.value);
    const issues = map.ok ? map.value.locate(timeIssues(map.value)) : map.fault;
    if (!map.ok || issues.length > 0) {
      io.err.write(formatIssues(issues));
      return 2;
    }
    const progress = new Progress(io.err, () => performance.now());
    try {
      return await replayFile({ call: call.value, site: site.value, opened: map.value, progress, io });
    } catch (error) {
      if (typeof (error as NodeJS.ErrnoException).syscall !== 'string') throw error;
      progress.end();
      io.err.write(`tonhour replay: ${(error as Error).message}\n`);
      return 1;
    } finally {
      progress.end();
    }
  },
};

/** What a schema cannot see of the times. */
function timeIssues({ map: { time } }: OpenedMap): SiteIssue[] {
  const issues: SiteIssue[] = [];
  const parse = timeParser(time.format);
  if (typeof parse === 'string') issues.push(issue('config_value', ['time', 'format'], parse));
  if (time.zone !== undefined && offsetsOf(time.zone) === null) {
    const message = `'${time.zone}' is neither UTC, nor an offset such as +01:00, nor an IANA name such as Europe/Berlin`;
    issues.push(issue('config_value', ['time', 'zone'], message));
  }
  return issues;
}

interface Job {
  readonly call: Call;
  readonly site: Site;
  readonly opened: OpenedMap;
  readonly progress: Progress;
  readonly io: CommandIo;
}

async function replayFile(job: Job): Promise<number> {
  const { call, site, opened, progress, io } = job;
  const { size: bytes } = await stat(call.file);
  progress.begin('reading');
  const scanned = await scanTrend({
    path: call.file,
    map: opened.map,
    zone: site.time_zone,
    mapFile: call.map,
    onBytes: (read) => progress.at(read / bytes, call.file),
    stop: io.stop,
  });
  if (io.stop.aborted) return ended(io);
  if (!scanned.ok) {
    progress.end();
    io.err.write(`tonhour replay: ${scanned.fault.message}\n`);
    return 1;
  }
  const { names, header, step_s } = scanned.value;
  const points = trendPoints(opened.map, site, { names, units: header.units, step_s });
  if (points.issues.length > 0) {
    progress.end();
    io.err.write(formatIssues(opened.locate(points.issues)));
    return 2;
  }
  return fold({ ...job, bytes, scanned: scanned.value, chillers: points.chillers, notices: points.notices });
}

interface Folding extends Job {
  readonly bytes: number;
  readonly scanned: Scanned;
  readonly chillers: readonly TrendChiller[];
  readonly notices: readonly string[];
}

async function fold(job: Folding): Promise<number> {
  const { call, site, opened, progress, io, bytes, scanned, chillers } = job;
  const { map } = opened;
  const interval_s = replayInterval(site, map, scanned.step_s);
  const grid = 1000 * interval_s;
  const span = { from: Math.ceil(scanned.first / grid) * grid - grid, to: Math.ceil(scanned.last / grid) * grid };
  const tallies = chillers.map(({ chiller }) => new ReplayTally({ chiller: chiller.id, site, interval_s, span }));
  const files = new ReplayFiles(call.out);
  let share = 0;
  let counts: Result<ReplayCounts>;
  try {
    progress.begin(scanned.ordered ? 'solving' : 'sorting, then solving');
    const rows = rowsOf({
      path: call.file,
      map,
      zone: site.time_zone,
      scanned,
      folder: call.out,
      onShare: (done) => {
        share = done;
      },
      bytes,
      stop: io.stop,
    });
    const options = { site, map, scanned, chillers, interval_s, root: rootOf(site), stop: io.stop };
    counts = await replay(
      {
        ...options,
        onMinute: (index, outcome) => {
          const { chiller } = chillers[index] as TrendChiller;
          const time = Date.parse(outcome.record.time);
          tallies[index]?.add(outcome, time, files.minute(chiller.id, outcome));
          progress.at(share, rfc3339(time).slice(0, 16).replace('T', ' '));
        },
      },
      rows,
    );
  } catch (error) {
    files.abandon();
    throw error;
  }
  if (!counts.ok || io.stop.aborted) {
    files.abandon();
    if (counts.ok) return ended(io);
    io.err.write(`tonhour replay: ${counts.fault.message}\n`);
    return 1;
  }
  const summary: ReplaySummary = summaryOf({ ...job, interval_s, span, counts: counts.value, tallies });
  files.finish(summary, replayReport(summary, site, fontRules()));
  progress.end();
  io.out.write(call.json ? `${JSON.stringify(summary)}\n` : summaryText(summary, call.out));
  return 0;
}

function rootOf(site: Site): string {
  return `${site.mqtt?.prefix ?? 'tonhour'}/${site.id}`;
}

function ended(io: CommandIo): number {
  io.err.write('tonhour replay: ended before it was done; nothing was kept\n');
  return 1;
}
