/** A mail sink before a real mail server, with mails that say by number what they are about. */
import { onTestFinished, vi } from 'vitest';
import type { ErrorCode } from '../../../agent/base/errors.ts';
import { must } from '../../../agent/base/result.ts';
import { noticeMessage } from '../../../agent/callout/notice.ts';
import type { History } from '../../../agent/history/history.ts';
import { MailSink } from '../../../agent/sinks/mail.ts';
import type { MailLimits, MailMatter, MailOptions } from '../../../agent/sinks/mail-options.ts';
import { notice } from '../../unit/callout/notices.ts';
import { minute, open } from '../../unit/history/helpers.ts';
import { type Authority, makeCertificate, type ServerWishes, startMailServer } from './mail-server.ts';

export const WAIT = { timeout: 60_000, interval: 20 };
const QUICK = { mail_backoff_ms_min: 20, mail_backoff_ms_max: 100 } as const;

/** One for each run of a file: openssl takes its time. */
export const authority: Authority = makeCertificate();

/** Says what a mail is about by the numbers of its notices: the text for people is another room's, and tested there. */
function compose({ kind, notices, gaps, attachments }: MailMatter) {
  const numbers = notices.map(({ sequence }) => sequence).join(' ');
  const lost = gaps.map(({ from_sequence, to_sequence, count }) => `${from_sequence}-${to_sequence} ${count}`).join();
  const table = {
    filename: 'alarms.csv',
    contentType: 'text/csv; charset=utf-8',
    content: `sequence\n${numbers.replaceAll(' ', '\n')}\n`,
  };
  return {
    subject: `${kind} ${notices.length} – é`,
    text: `numbers: ${numbers}; lost: ${lost};`,
    html: `<p>${numbers}</p>`,
    attachments: attachments ? [table] : [],
  };
}

export function commit(history: History, sequence: number, given: Partial<ReturnType<typeof notice>> = {}): void {
  must(history.commitMinute(minute(sequence, { messages: [noticeMessage({ ...notice(sequence), ...given })] })));
}

export interface SinkWishes {
  readonly port: number;
  readonly history: History;
  readonly password?: string;
  readonly limits?: Partial<MailLimits>;
  readonly options?: Partial<MailOptions>;
  readonly report?: (code: ErrorCode, message: string) => void;
}

export function sinkOf({ port, history, password = 'right', limits = {}, options = {}, report }: SinkWishes): MailSink {
  return new MailSink({
    outbox: history.outbox,
    server: { host: '127.0.0.1', port, security: 'starttls', username: 'agent', password, ca: authority.ca },
    from: { name: 'Tonhour, Kestrel Quay', address: 'tonhour@quay.example' },
    to: [{ address: 'team@quay.example', priorities: [1, 2, 3] }],
    per_hour: 600,
    site: 'kestrel-quay',
    compose,
    limits: { ...QUICK, ...limits },
    ...(report === undefined ? {} : { report: ({ code, message }) => report(code, message) }),
    ...options,
  });
}

export async function rig(wishes: Partial<ServerWishes> = {}, given: Partial<SinkWishes> = {}) {
  const server = await startMailServer({ authority, ...wishes });
  onTestFinished(() => server.stop());
  const history = open();
  const reports: [ErrorCode, string][] = [];
  const sink = sinkOf({
    port: server.port,
    history,
    report: (code, message) => reports.push([code, message]),
    ...given,
  });
  must(sink.init());
  onTestFinished(() => sink.stop());
  const numbers = () => server.letters.map(({ parts }) => /numbers: ([\d ]*);/.exec(parts[0]?.content ?? '')?.[1]);
  const settled = () => vi.waitUntil(() => history.outbox.counts('mail').waiting === 0, WAIT);
  return { server, history, sink, reports, numbers, settled };
}
