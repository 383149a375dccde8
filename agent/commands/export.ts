/** `export`: the stored minutes of a period as CSV or NDJSON, beside the running agent. */
import type { Result } from '../base/result.ts';
import { rfc3339 } from '../base/time.ts';
import { HistoryReader } from '../history/reader.ts';
import { monthStart, readPeriod } from '../season/period.ts';
import { type Span, zoneOffsets } from '../season/zone.ts';
import { csv, type ExportFormat, exportNames, exportRow, NDJSON, type RowShape } from './export-rows.ts';
import type { Command, CommandIo } from './io.ts';
import { drained } from './records.ts';
import { readSiteCall, refuse } from './site-call.ts';

const OPTIONS = {
  from: { type: 'string' },
  to: { type: 'string' },
  metrics: { type: 'string' },
  format: { type: 'string' },
} as const;

const VERB = {
  verb: 'export',
  usage: `tonhour export --config FILE [--chiller ID] [--from DATE] [--to DATE] [--metrics LIST] [--format csv|ndjson]

Writes every stored minute of a period to standard output, one row each, oldest first, chiller after chiller. Times are ends of intervals, in
UTC and with the offset of the site's time zone. Units are those of the catalogue (config/catalogue.md); uncertainties are
expanded (k = 2); what is missing is empty (CSV) or null with its reason (NDJSON). The running agent is not disturbed.

  --config FILE   the site file (config/README.md); its history folder is read
  --chiller ID    this chiller alone
  --from, --to    dates such as 2026-07-01 (whole local days, both included) or instants such as 2026-07-01T06:00:00Z;
                  left out: from the first of this month, to now
  --metrics LIST  names of metrics or points with commas between, such as unit.power,unit.kw_per_ton; left out: all
  --format        csv: a header, then value, uncertainty and quality of each name in columns of their own
                  ndjson (or --json): one JSON object a minute, each figure with value, unit, uncertainty, quality, reason

Exit code 0: done. 1: the history cannot be read. 2: wrong call or site file.
`,
};

/** Written at once, characters. */
const CHUNK = 64 * 1024;

export const command: Command = {
  summary: 'Stored minutes of a period as CSV or NDJSON, with units, uncertainties and qualities',
  usage: VERB.usage,
  async run(args, io) {
    const call = await readSiteCall(args, { options: OPTIONS, verb: VERB, io });
    if (typeof call === 'number') return call;
    const { flags, site } = call;
    const format = flags.format ?? (flags.json === true ? 'ndjson' : 'csv');
    if (format !== 'csv' && format !== 'ndjson') return refuse(io, VERB, `--format ${format}: it is csv or ndjson`);
    const names = exportNames(flags.metrics, site);
    if (typeof names === 'string') return refuse(io, VERB, `--metrics: ${names}`);
    const offsets = zoneOffsets(site.time_zone);
    const now = Date.now();
    const period = readPeriod({ from: flags.from ?? monthStart(now, offsets), to: flags.to }, { offsets, now });
    if (!period.ok) return refuse(io, VERB, `--${period.fault.message}`);
    const chillers = site.chillers
      .map(({ id }) => id)
      .filter((id) => flags.chiller === undefined || id === flags.chiller);
    const reader = HistoryReader.open(site.history.folder);
    if (!reader.ok) return failed(io, reader.fault.message);
    try {
      const asked = { chillers, period: period.value, shape: { names, offsets } };
      const written = await write(reader.value, asked, { io, format: format === 'csv' ? csv(names) : NDJSON });
      if (!written.ok) return failed(io, written.fault.message);
      const { from, to } = period.value;
      io.err.write(`${written.value} minutes of ${chillers.join(', ')}, ${rfc3339(from)} to ${rfc3339(to)}\n`);
      return 0;
    } finally {
      reader.value.close();
    }
  },
};

interface Asked {
  readonly chillers: readonly string[];
  readonly period: Span;
  readonly shape: RowShape;
}

/** Gives the number of rows. Ends early, and quietly, when the work is stopped or the reader of the output has gone. */
async function write(
  reader: HistoryReader,
  { chillers, period, shape }: Asked,
  { io, format }: { readonly io: CommandIo; readonly format: ExportFormat },
): Promise<Result<number>> {
  const names = new Set(shape.names.map(({ name }) => name));
  let rows = 0;
  let text = format.head;
  const flush = async (): Promise<void> => {
    if (text !== '' && !io.out.write(text)) await drained(io);
    text = '';
  };
  for (const chiller of chillers)
    for (let sequence = 0; ; ) {
      // An interval counts by its end. The store is let go while the reader of the output takes its time.
      const minutes = reader.minutesAfter({ chiller, from: period.from + 1, to: period.to, names }, sequence);
      if (!minutes.ok) return minutes;
      const last = minutes.value.at(-1);
      if (last === undefined) break;
      sequence = last.sequence;
      for (const stored of minutes.value) {
        text += format.row(exportRow(chiller, stored, shape));
        rows += 1;
        if (text.length >= CHUNK) await flush();
        if (io.stop.aborted || io.out.destroyed) return { ok: true, value: rows };
      }
    }
  await flush();
  return { ok: true, value: rows };
}

function failed(io: CommandIo, message: string): number {
  io.err.write(`tonhour export: ${message}\n`);
  return 1;
}
