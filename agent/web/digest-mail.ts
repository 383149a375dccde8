/**
 * Many alarms in one mail: the most urgent by name, all of them in a table beside it, and what was given up by number.
 * Nothing of a flood is lost in it: the table has a row for each.
 */
import { LIMITS } from '../base/limits.ts';
import { type AlarmNotice, eventName } from '../callout/notice.ts';
import type { MailSite, MailWords } from './callout-mail.ts';
import { type Block, htmlOf, textOf } from './mail-blocks.ts';
import { amount, plainName, whenText } from './page/callout-words.js';
import { num } from './page/text.js';

/** Notices of a chiller that will not come, by the numbers of their minutes. */
export interface LostNotices {
  readonly chiller: string;
  readonly priority: 1 | 2 | 3;
  readonly from_sequence: number;
  readonly to_sequence: number;
  readonly count: number;
}

/** `attached`: the table goes with it. */
export function digestMail(
  notices: readonly AlarmNotice[],
  lost: readonly LostNotices[],
  site: MailSite,
  attached: boolean,
): MailWords {
  const raised = notices.filter(({ change }) => change === 'raised');
  const cleared = notices.length - raised.length;
  const urgent = [...notices].sort((a, b) => a.priority - b.priority || a.time.localeCompare(b.time));
  const named = urgent.slice(0, LIMITS.mail_named_max);
  const rest = notices.length - named.length;
  const many = notices.length === 0 ? 'Alarm messages lost' : `${num(notices.length, 0)} alarm messages`;
  const most = urgent[0] === undefined ? '' : `, first: ${urgent[0].chiller} ${urgent[0].title}`;
  const title = `${many}, ${site.name}`;
  const blocks: Block[] = [
    { title, lines: [`${num(raised.length, 0)} raised, ${num(cleared, 0)} over. ${byChiller(notices)}`] },
    ...(named.length === 0
      ? []
      : [{ heading: 'Most urgent first', numbered: named.map((each) => lineOf(each, site)) }]),
    {
      lines: [
        ...(rest === 0 ? [] : [`and ${num(rest, 0)} more.`]),
        ...(notices.length === 0
          ? []
          : [
              attached
                ? 'Attached: a table with a row for each of them.'
                : 'The table was left out: the mail server takes no mail of its size. The alarm journal has them all.',
            ]),
      ],
    },
    ...(lost.length === 0 ? [] : [{ heading: 'Given up before they could be mailed', bullets: lost.map(lostLine) }]),
    {
      lines: [
        'Callout packets: on the page under Alarms, or by `tonhour callout`.',
        'Tonhour reads and never writes to a controller; it is not a safety function.',
      ],
    },
  ];
  return {
    subject: `${many}${most}, ${site.name}`.replace(/\s+/g, ' '),
    text: textOf(blocks),
    html: htmlOf(blocks, title),
  };
}

function byChiller(notices: readonly AlarmNotice[]): string {
  const counts = new Map<string, number>();
  for (const { chiller } of notices) counts.set(chiller, (counts.get(chiller) ?? 0) + 1);
  return [...counts].map(([chiller, count]) => `${chiller}: ${num(count, 0)}`).join(', ');
}

function lineOf(
  { chiller, title, priority, change, time, metric, unit, value, limit }: AlarmNotice,
  { reader }: MailSite,
): string {
  const figures =
    metric === null || unit === null || limit === null
      ? ''
      : `: ${plainName(metric)} ${amount(reader, metric, unit, value)}, limit ${amount(reader, metric, unit, limit)}`;
  return `[${priority}] ${whenText(time, reader.time_zone)} ${chiller} ${title}${change === 'cleared' ? ', over' : ''}${figures}`;
}

function lostLine({ chiller, priority, from_sequence, to_sequence, count }: LostNotices): string {
  return `${chiller}, priority ${priority}: ${count}, of minutes ${from_sequence} to ${to_sequence}; see the alarm journal`;
}

const COLUMNS = [
  'time',
  'chiller',
  'event',
  'change',
  'priority',
  'title',
  'metric',
  'value',
  'limit',
  'unit',
] as const;

/** Every notice as a row (RFC 4180), catalogue units, times in UTC. */
export function digestTable(notices: readonly AlarmNotice[]): string {
  const rows = notices.map((notice) =>
    COLUMNS.map((column) => cell(column === 'event' ? eventName(notice) : notice[column])).join(','),
  );
  return `${[COLUMNS.join(','), ...rows].join('\r\n')}\r\n`;
}

/** A text that a spreadsheet would take for a formula gets an apostrophe before it. */
function cell(value: string | number | null): string {
  if (value === null) return '';
  if (typeof value === 'number') return String(value);
  const text = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
