/** `log`: what was done to a machine, written into a log that only grows, and read again. */
import { parseRfc3339, rfc3339 } from '../base/time.ts';
import { appendMaintenance } from '../history/maintenance.ts';
import { HistoryReader } from '../history/reader.ts';
import { cautionOf, readWork, WORK_KINDS } from '../season/log.ts';
import { localTime, type Offsets, zoneOffsets } from '../season/zone.ts';
import type { Site } from '../site/site.ts';
import type { Command, CommandIo } from './io.ts';
import { readSiteCall, refuse, type SiteFlags } from './site-call.ts';

const OPTIONS = {
  kind: { type: 'string' },
  text: { type: 'string' },
  mass: { type: 'string' },
  time: { type: 'string' },
  list: { type: 'boolean' },
} as const;

type Flags = SiteFlags<typeof OPTIONS>;

const VERB = {
  verb: 'log',
  usage: `tonhour log --config FILE --chiller ID --kind ${WORK_KINDS.join('|')} --text TEXT [--mass MASS] [--time INSTANT]
tonhour log --config FILE --list [--chiller ID] [--json]

Writes an entry into the history of the site, also beside the running agent. The log only grows: a mistake is put right by a further entry.

  --config FILE   the site file (config/README.md)
  --chiller ID    the machine
  --kind, --text  what was done, in a word of the list and in your own
  --mass MASS     with refrigerant_added: as weighed, such as 12.5 kg or 30 lb
  --time INSTANT  when it was done, such as 2026-07-01T06:00:00Z (left out: now)
  --list          the entries, oldest first          --json  one JSON object an entry

Exit code 0: done. 1: the history cannot be read or written. 2: wrong call or site file.
`,
};

export const command: Command = {
  summary: 'Maintenance log: writes down what was done to a machine, and lists it',
  usage: VERB.usage,
  async run(args, io) {
    const call = await readSiteCall(args, { options: OPTIONS, verb: VERB, io });
    if (typeof call === 'number') return call;
    const { flags, site } = call;
    return flags.list === true ? list(io, site, flags) : write(io, site, flags);
  },
};

function list(io: CommandIo, site: Site, { chiller, json, kind, text }: Flags): number {
  if (kind !== undefined || text !== undefined)
    return refuse(io, VERB, '--list writes nothing: leave out --kind and --text');
  const reader = HistoryReader.open(site.history.folder);
  const found = reader.ok
    ? reader.value.maintenance({ chiller: chiller ?? null, from: 0, to: Number.MAX_SAFE_INTEGER })
    : reader;
  if (reader.ok) reader.value.close();
  if (!found.ok) {
    io.err.write(`tonhour log: ${found.fault.message}\n`);
    return 1;
  }
  const offsets = zoneOffsets(site.time_zone);
  for (const entry of found.value) io.out.write(`${json === true ? asJson(entry) : asText(entry, offsets)}\n`);
  if (found.value.length === 0) io.err.write('the maintenance log is empty\n');
  return 0;
}

function write(io: CommandIo, site: Site, { chiller, kind, text, mass, time, json }: Flags): number {
  if (chiller === undefined) return refuse(io, VERB, '--chiller is missing');
  if (kind === undefined) return refuse(io, VERB, '--kind is missing');
  if (text === undefined) return refuse(io, VERB, '--text is missing');
  const work = readWork({ kind, text, mass });
  if (!work.ok) return refuse(io, VERB, work.fault.message);
  const entered = Date.now();
  const done = time === undefined ? entered : parseRfc3339(time);
  if (done === null) return refuse(io, VERB, `--time ${time}: give an instant such as 2026-07-01T06:00:00Z`);
  if (done > entered) return refuse(io, VERB, `--time ${time} is still to come: write down what was done`);
  const stored = appendMaintenance(site.history.folder, { chiller, time: done, entered, ...work.value });
  if (!stored.ok) {
    io.err.write(`tonhour log: ${stored.fault.message}\n`);
    return 1;
  }
  io.out.write(`${json === true ? asJson(stored.value) : asText(stored.value, zoneOffsets(site.time_zone))}\n`);
  const caution = cautionOf(stored.value.kind);
  if (caution !== null) io.err.write(`\n${caution}\n`);
  return 0;
}

type Entry = Extract<ReturnType<typeof appendMaintenance>, { ok: true }>['value'];

function asJson({ time, entered, ...entry }: Entry): string {
  return JSON.stringify({ ...entry, time: rfc3339(time), entered: rfc3339(entered) });
}

function asText({ id, time, chiller, kind, text, mass_kg }: Entry, offsets: Offsets): string {
  const mass = mass_kg === null ? '' : `, ${Number(mass_kg.toPrecision(6))} kg`;
  return `${id}  ${localTime(time, offsets)}  ${chiller}  ${kind}${mass}: ${text}`;
}
