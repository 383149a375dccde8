/** `alarm`: what stands, and commands to acknowledge, shelve and unshelve, by way of the store. */
import { alarmNamed } from '../alarms/builtin.ts';
import { COMMAND_VERBS, checkShelf, isVerb, readCommand } from '../alarms/commands.ts';
import { LIMITS } from '../base/limits.ts';
import { appendCommand } from '../history/commands.ts';
import { HistoryReader } from '../history/reader.ts';
import type { Site } from '../site/site.ts';
import { alarmsText } from './alarm-text.ts';
import type { Command, CommandIo } from './io.ts';
import { readSiteCall, refuse, type SiteFlags } from './site-call.ts';

const OPTIONS = {
  alarm: { type: 'string' },
  by: { type: 'string' },
  reason: { type: 'string' },
  until: { type: 'string' },
  raised: { type: 'string' },
} as const;

type Flags = SiteFlags<typeof OPTIONS>;

const HOURS = LIMITS.alarm_shelf_s / 3600;
const DAYS = LIMITS.alarm_shelf_s_max / 86_400;

const VERB = {
  verb: 'alarm',
  usage: `tonhour alarm list --config FILE [--chiller ID] [--json]
tonhour alarm acknowledge|unshelve --config FILE --chiller ID --alarm ID --by NAME [--reason TEXT]
tonhour alarm shelve --config FILE --chiller ID --alarm ID --by NAME --reason TEXT [--until INSTANT]

A command is written into the history of the site, beside the running agent; the next minute of the chiller takes it in and publishes the alarm as it
is then. It speaks of an alarm of Tonhour alone and never reaches a controller, whose own alarms are acknowledged at its panel.

  --config FILE    the site file (config/README.md)
  --chiller ID     the machine                --alarm ID   as 'alarm list' shows it
  --by NAME        who does it                --reason TEXT  why
  --until INSTANT  end of a shelf, such as 2026-07-01T18:00:00Z (left out: in ${HOURS} hours; at most ${DAYS} days). Alarms of freezing, oil
                   and refrigerant detectors are never shelved
  --raised INSTANT with acknowledge: only the occurrence that began then
  --json           one JSON object an alarm

Exit code 0: done. 1: the history cannot be read or written. 2: wrong call or site file.
`,
};

export const command: Command = {
  summary: 'Alarms: what stands, acknowledge, shelve, unshelve',
  usage: VERB.usage,
  async run([action, ...args], io) {
    if (action === undefined || (action !== 'list' && !isVerb(action)))
      return refuse(io, VERB, `say first what to do: list, ${COMMAND_VERBS.join(', ')}`);
    const call = await readSiteCall(args, { options: OPTIONS, verb: VERB, io });
    if (typeof call === 'number') return call;
    const { flags, site } = call;
    return action === 'list' ? list(io, site, flags) : write(io, site, action, flags);
  },
};

function list(io: CommandIo, site: Site, { chiller, json }: Flags): number {
  const reader = HistoryReader.open(site.history.folder);
  const found = reader.ok ? reader.value.openAlarms() : reader;
  if (reader.ok) reader.value.close();
  if (!found.ok) {
    io.err.write(`tonhour alarm: ${found.fault.message}\n`);
    return 1;
  }
  const open = found.value.filter((entry) => chiller === undefined || entry.chiller === chiller);
  if (json === true) for (const { detail } of open) io.out.write(`${detail}\n`);
  else if (open.length > 0) io.out.write(alarmsText(open, site.time_zone));
  if (open.length === 0) io.err.write('every alarm is normal\n');
  return 0;
}

function write(io: CommandIo, site: Site, verb: string, { json, config: _, chiller, ...flags }: Flags): number {
  if (chiller === undefined) return refuse(io, VERB, '--chiller is missing');
  if (flags.alarm === undefined) return refuse(io, VERB, '--alarm is missing');
  if (flags.by === undefined) return refuse(io, VERB, '--by is missing: who does it');
  const payload = JSON.stringify({ chiller, ...flags });
  const read = readCommand(verb, payload);
  if (!read.ok) return refuse(io, VERB, read.fault.message);
  const rules = site.chillers.find(({ id }) => id === chiller)?.alarms ?? [];
  const alarm = alarmNamed(rules, flags.alarm);
  if (alarm === null) return refuse(io, VERB, `${chiller} has no alarm '${flags.alarm}'; see tonhour alarm list`);
  const received = Date.now();
  const allowed = checkShelf(read.value, alarm, received);
  if (!allowed.ok) return refuse(io, VERB, allowed.fault.message);
  const stored = appendCommand(site.history.folder, { chiller, received, verb, payload });
  if (!stored.ok) {
    io.err.write(`tonhour alarm: ${stored.fault.message}\n`);
    return 1;
  }
  if (json === true) io.out.write(`${JSON.stringify({ verb, ...JSON.parse(payload) })}\n`);
  else io.out.write(`${verb} ${chiller} ${flags.alarm}: written down, taken in with the next minute\n`);
  return 0;
}
