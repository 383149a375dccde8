/** `callout`: the packet of an alarm as a page and as JSON, from the history of the site. */
import { mkdirSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { Callouts, type RaisedEvent } from '../callouts.ts';
import { HistoryReader } from '../history/reader.ts';
import { drawing, fileName } from '../letters.ts';
import { localTime, type Offsets, zoneOffsets } from '../season/zone.ts';
import type { Site } from '../site/site.ts';
import { VERSION } from '../version.ts';
import type { Command, CommandIo } from './io.ts';
import { readSiteCall, refuse, type SiteFlags } from './site-call.ts';

const OPTIONS = {
  alarm: { type: 'string' },
  out: { type: 'string' },
} as const;

type Flags = SiteFlags<typeof OPTIONS>;

const VERB = {
  verb: 'callout',
  usage: `tonhour callout --config FILE
tonhour callout --config FILE --alarm [CHILLER/]ALARM[.NUMBER] [--chiller ID] [--out FOLDER] [--json]

Writes what a technician wants before driving out to an alarm: what, since when, how sure, first checks, likely causes with what tells them
apart, the circuit, trends around the start, figures and points of that minute, the maintenance log, and the cautions. One page that needs no
network and prints on A4 and Letter, and the same as JSON. Without --alarm it lists the alarms raised lately. The running agent is not disturbed.

  --config FILE   the site file (config/README.md); its history folder is read
  --alarm NAME    as listed, CH-1/condenser-approach.159; without the number: the last time that it was raised
  --chiller ID    the machine, where NAME does not say it; with the list: this machine alone
  --out FOLDER    where the two files go (left out: the current folder)
  --json          the packet, or the list line by line, on standard output; no files

Exit code 0: done. 1: no such alarm, or the history cannot be read. 2: wrong call or site file.
`,
};

export const command: Command = {
  summary: 'What a technician wants before driving out to an alarm: one page and JSON',
  usage: VERB.usage,
  async run(args, io) {
    const call = await readSiteCall(args, { options: OPTIONS, verb: VERB, io });
    if (typeof call === 'number') return call;
    const { flags, site } = call;
    const reader = HistoryReader.open(site.history.folder);
    if (!reader.ok) return failed(io, reader.fault.message);
    try {
      const callouts = new Callouts({ site, version: VERSION, events: reader.value.events, now: Date.now });
      return flags.alarm === undefined ? list(io, site, { callouts, flags }) : write(io, site, { callouts, flags });
    } finally {
      reader.value.close();
    }
  },
};

interface Work {
  readonly callouts: Callouts;
  readonly flags: Flags;
}

function list(io: CommandIo, site: Site, { callouts, flags }: Work): number {
  if (flags.out !== undefined) return refuse(io, VERB, '--out needs --alarm: which one?');
  const found = callouts.recent(flags.chiller ?? null);
  if (!found.ok) return failed(io, found.fault.message);
  const offsets = zoneOffsets(site.time_zone);
  for (const each of found.value)
    io.out.write(`${flags.json === true ? JSON.stringify(each) : asText(each, offsets)}\n`);
  if (found.value.length === 0) io.err.write('no alarm was raised lately\n');
  return 0;
}

function asText({ chiller, event, time, priority, title }: RaisedEvent, offsets: Offsets): string {
  return `${localTime(time, offsets)}  ${priority}  ${`${chiller}/${event}`.padEnd(44)} ${title}`;
}

function write(io: CommandIo, site: Site, { callouts, flags }: Work): number {
  const [, named, event = ''] = /^(?:([^/]*)\/)?(.*)$/.exec(flags.alarm ?? '') ?? [];
  const [only] = site.chillers;
  const chiller = named ?? flags.chiller ?? (site.chillers.length === 1 ? only?.id : undefined);
  if (chiller === undefined) return refuse(io, VERB, '--chiller is missing: several machines have this alarm');
  if (named !== undefined && flags.chiller !== undefined && named !== flags.chiller)
    return refuse(io, VERB, `--alarm says ${named} and --chiller ${flags.chiller}`);
  const packet = callouts.event(chiller, event);
  if (!packet.ok) return failed(io, packet.fault.message);
  if (flags.json === true) {
    io.out.write(`${JSON.stringify(packet.value)}\n`);
    return 0;
  }
  const folder = flags.out ?? '.';
  const at = path.join(folder, fileName(packet.value));
  try {
    mkdirSync(folder, { recursive: true });
    writeFileSync(`${at}.html`, drawing(site)(packet.value) ?? '');
    writeFileSync(`${at}.json`, `${JSON.stringify(packet.value, null, 2)}\n`);
  } catch (error) {
    return failed(io, `${folder}: ${(error as Error).message}`);
  }
  io.out.write(`${at}.html\n${at}.json\n`);
  return 0;
}

function failed(io: CommandIo, message: string): number {
  io.err.write(`tonhour callout: ${message}\n`);
  return 1;
}
