/**
 * What a mail about alarms says, in words and as simple HTML, in the units of the site. Made beside the page, whose
 * words and units it shares; the sink that sends it is handed the text.
 */
import type { AlarmNotice } from '../callout/notice.ts';
import { eventName } from '../callout/notice.ts';
import type { CalloutPacket } from '../callout/packet.ts';
import { type Block, htmlOf, textOf } from './mail-blocks.ts';
import {
  amount,
  plainName,
  type Reader,
  respondWords,
  SAYS,
  signWords,
  sinceWords,
  sureWords,
  whatWords,
  whenText,
  workWords,
} from './page/callout-words.js';

export interface MailSite {
  readonly id: string;
  readonly name: string;
  readonly reader: Reader;
  /** Where readers reach the page; null: no links. */
  readonly page: string | null;
}

export interface MailWords {
  readonly subject: string;
  readonly text: string;
  readonly html: string;
}

const CAUSES_MAX = 4;
const NEVER =
  'Tonhour reads and never writes to a controller; it is not a safety function. Local codes, the manual of the machine and licensed practice govern.';

/** One alarm. `packet` null: it is over, or nothing more is known; `attached`: the packet goes with it. */
export function alarmMail(
  notice: AlarmNotice,
  site: MailSite,
  { packet, attached }: { readonly packet: CalloutPacket | null; readonly attached: boolean },
): MailWords {
  const over = notice.change === 'cleared';
  const head = `${notice.chiller} ${notice.title}`;
  const subject = `${over ? 'Over: ' : `[${notice.priority}] `}${head}, ${site.name}`;
  const title = over ? `${head}: over` : head;
  const blocks: Block[] = [
    {
      title,
      lines: [
        `${site.name}, priority ${notice.priority}, ${whenText(notice.time, site.reader.time_zone)} (${site.reader.time_zone})`,
      ],
    },
    { facts: packet === null ? noticeFacts(notice, site) : packetFacts(packet, site) },
    ...(packet === null || over ? [] : packetBlocks(packet, site)),
    { lines: ends(notice, site, { packet, attached }) },
  ];
  return { subject: oneLine(subject), text: textOf(blocks), html: htmlOf(blocks, title) };
}

function noticeFacts(notice: AlarmNotice, { reader }: MailSite): [string, string][] {
  const { metric, unit, value, limit, change } = notice;
  const found =
    metric === null || unit === null || limit === null
      ? notice.evidence.map(({ name, found: is }) => `${plainName(name)}: ${is}`).join('; ')
      : `${plainName(metric)} ${amount(reader, metric, unit, value)}, limit ${amount(reader, metric, unit, limit)}`;
  const over: [string, string][] = [
    ['what', found],
    ['began', notice.raised === null || notice.raised === undefined ? '' : whenText(notice.raised, reader.time_zone)],
  ];
  if (change === 'cleared') return over;
  return [...over, ['cause', notice.cause], ['if nobody acts', notice.consequence], ['to do', notice.action]];
}

function packetFacts(packet: CalloutPacket, { reader }: MailSite): [string, string][] {
  const { alarm, machine, chiller } = packet;
  return [
    ['what', `${whatWords(packet, reader)}.`],
    ['since', sinceWords(packet, reader)],
    ['how sure', sureWords(packet)],
    [
      'machine',
      `${chiller.refrigerant_label}, ${chiller.arrangement}; ${machine.state}, economizer ${machine.economizer}`,
    ],
    ['if nobody acts', alarm.consequence],
    ['respond', respondWords(alarm.respond_within_s)],
  ];
}

function packetBlocks(packet: CalloutPacket, { reader }: MailSite): Block[] {
  const causes = packet.causes.slice(0, CAUSES_MAX).map(({ title, says, signs }) => {
    const spoken = signs.filter(({ says: its }) => its !== 'open');
    const told = spoken.map((sign) => `${plainName(sign.name)} ${signWords(sign, reader)}`).join('; ');
    const verdict = SAYS[says] === '' ? '' : `: ${SAYS[says]}`;
    return `${title}${verdict}${told === '' ? '' : ` (${told})`}`;
  });
  const log = packet.maintenance
    .slice(-3)
    .map((work) => `${whenText(work.time, reader.time_zone)} ${workWords(work, reader.system)}`);
  return [
    { heading: 'First on site', numbered: packet.first_checks },
    { heading: 'Likely causes, most likely first', numbered: causes },
    { heading: 'Before any work', bullets: packet.cautions.map(({ text }) => text) },
    ...(log.length === 0 ? [] : [{ heading: 'Maintenance log', bullets: log }]),
  ];
}

function ends(
  notice: AlarmNotice,
  { page }: MailSite,
  { packet, attached }: { readonly packet: CalloutPacket | null; readonly attached: boolean },
): string[] {
  const event = eventName(notice);
  const link =
    page === null ? [] : [`Page: ${page}/callout/${encodeURIComponent(notice.chiller.toLowerCase())}/${event}`];
  const packetLine =
    packet === null
      ? []
      : [
          attached
            ? 'Attached: the whole packet with diagram and trends, to print, and as JSON.'
            : 'The packet was left out: the mail server takes no mail of its size.',
        ];
  // Whoever gets this twice, because the agent died between sending and writing it down, can tell by this name.
  return [
    ...(notice.change === 'cleared' ? [] : packetLine),
    ...link,
    `Event ${notice.chiller}/${event}, ${notice.change}.`,
    NEVER,
  ];
}

/** Header text: one line. */
function oneLine(text: string): string {
  return text.replace(/\s+/g, ' ').trim();
}
