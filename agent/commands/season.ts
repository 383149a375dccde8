/** `season`: what each chiller did over a period, from the history of the site. */
import { ok, type Result } from '../base/result.ts';
import { rfc3339 } from '../base/time.ts';
import type { MaintenanceEntry } from '../history/maintenance.ts';
import { HistoryReader } from '../history/reader.ts';
import { monthStart, readPeriod } from '../season/period.ts';
import { type SeasonFigure, season } from '../season/season.ts';
import { daysOf, type Span, zoneOffsets } from '../season/zone.ts';
import type { Site } from '../site/site.ts';
import type { Command, CommandIo } from './io.ts';
import { seasonText } from './season-text.ts';
import { readSiteCall, refuse } from './site-call.ts';

const OPTIONS = {
  from: { type: 'string' },
  to: { type: 'string' },
} as const;

const VERB = {
  verb: 'season',
  usage: `tonhour season --config FILE [--from DATE] [--to DATE] [--chiller ID] [--json]

Sums the stored minutes of a period in the site's time zone: ton-hours, kWh of the unit and its compressors, kW/ton as energy over ton-hours with
its uncertainty, minutes due and used, what the economizer saved and missed, bins of load and lift, a part-load value (a field value, not a
certified rating), months, and money where the site file gives a tariff. The running agent is not disturbed.

  --config FILE   the site file (config/README.md); its history folder is read
  --from, --to    dates such as 2026-07-01 (whole local days, both included) or instants such as 2026-07-01T06:00:00Z;
                  left out: from the first of this month, to now
  --chiller ID    this chiller alone
  --json          one JSON object a chiller, with bins, months and days

Exit code 0: done. 1: the history cannot be read. 2: wrong call or site file.
`,
};

export const command: Command = {
  summary: 'What each chiller did over a period: energy, ton-hours, kW/ton, money',
  usage: VERB.usage,
  async run(args, io) {
    const call = await readSiteCall(args, { options: OPTIONS, verb: VERB, io });
    if (typeof call === 'number') return call;
    const { flags, site } = call;
    const ids = site.chillers.map(({ id }) => id).filter((id) => flags.chiller === undefined || id === flags.chiller);
    const offsets = zoneOffsets(site.time_zone);
    const now = Date.now();
    const period = readPeriod({ from: flags.from ?? monthStart(now, offsets), to: flags.to }, { offsets, now });
    if (!period.ok) return refuse(io, VERB, `--${period.fault.message}`);
    return answer(io, { site, ids, period: period.value, json: flags.json === true });
  },
};

interface Asked {
  readonly site: Site;
  readonly ids: readonly string[];
  readonly period: Span;
  readonly json: boolean;
}

function answer(io: CommandIo, { site, ids, period, json }: Asked): number {
  const reader = HistoryReader.open(site.history.folder);
  if (!reader.ok) {
    io.err.write(`tonhour season: ${reader.fault.message}\n`);
    return 1;
  }
  try {
    for (const chiller of ids) {
      const found = read(reader.value, { site, chiller, period });
      if (!found.ok) {
        io.err.write(`tonhour season: ${found.fault.message}\n`);
        return 1;
      }
      const { figure, maintenance } = found.value;
      if (json) io.out.write(`${JSON.stringify({ ...figure, maintenance: maintenance.map(dated) })}\n`);
      else io.out.write(seasonText(figure, { site, maintenance }));
    }
    return 0;
  } finally {
    reader.value.close();
  }
}

function read(
  reader: HistoryReader,
  { site, chiller, period }: { readonly site: Site; readonly chiller: string; readonly period: Span },
): Result<{ figure: SeasonFigure; maintenance: readonly MaintenanceEntry[] }> {
  const maintenance = reader.maintenance({ chiller, ...period });
  if (!maintenance.ok) return maintenance;
  const days = daysOf(period, zoneOffsets(site.time_zone));
  const sums = reader.seasonSums({ chiller, spans: days });
  if (!sums.ok) return sums;
  const { time_zone, tariff } = site;
  const figure = season({ chiller, time_zone, tariff, ...period, days, sums: sums.value });
  return ok({ figure, maintenance: maintenance.value });
}

function dated({ time, entered, ...entry }: MaintenanceEntry): object {
  return { ...entry, time: rfc3339(time), entered: rfc3339(entered) };
}
