/** `season`: what each chiller did over a period, from the history of the site. */
import { assert, ok, type Result } from '../base/result.ts';
import { HistoryReader } from '../history/reader.ts';
import { chillerSeason } from '../season/answer.ts';
import { monthStart, readPeriod } from '../season/period.ts';
import { type Span, zoneOffsets } from '../season/zone.ts';
import { readChiller, readReference } from '../seasons.ts';
import type { Site } from '../site/site.ts';
import type { Command, CommandIo } from './io.ts';
import { type SeasonReport, seasonText } from './season-text.ts';
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
certified rating), months, and money where the site file gives a tariff; what the machine took against its baseline where the site file declares
one, and what work on it was worth. The running agent is not disturbed.

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
    for (const id of ids) {
      const found = read(reader.value, { site, id, period });
      if (!found.ok) {
        io.err.write(`tonhour season: ${found.fault.message}\n`);
        return 1;
      }
      if (json) io.out.write(`${JSON.stringify(found.value)}\n`);
      else io.out.write(seasonText(found.value, site));
    }
    return 0;
  } finally {
    reader.value.close();
  }
}

/** A season by the day, as `/api/season` has it, with months and days by these names. */
function read(
  reader: HistoryReader,
  { site, id, period }: { readonly site: Site; readonly id: string; readonly period: Span },
): Result<SeasonReport> {
  const chiller = site.chillers.find((each) => each.id === id);
  assert(chiller !== undefined, `${id} is a chiller of the site`);
  const reference = readReference(reader, { site, chiller, now: Date.now() });
  if (!reference.ok) return reference;
  const query = readChiller(reader, { site, chiller, period, step: 'day', now: period.to, reference: reference.value });
  if (!query.ok) return query;
  const { steps: days, name: _, ...season } = chillerSeason(query.value).season;
  return ok({ ...season, days });
}
