/**
 * The mail sink against a real mail server: what every sink owes, TLS in both ways, and what a server may say of a
 * mail or of a recipient (RFC 5321).
 */
import { beforeAll, describe, expect, onTestFinished, test, vi } from 'vitest';
import type { ErrorCode } from '../../../agent/base/errors.ts';
import { must } from '../../../agent/base/result.ts';
import { noticeMessage } from '../../../agent/callout/notice.ts';
import type { History } from '../../../agent/history/history.ts';
import { MailSink } from '../../../agent/sinks/mail.ts';
import type { MailLimits, MailMatter, MailOptions } from '../../../agent/sinks/mail-options.ts';
import { notice } from '../../unit/callout/notices.ts';
import { minute, open } from '../../unit/history/helpers.ts';
import { type Authority, makeCertificate, type ServerWishes, startMailServer } from './mail-server.ts';
import { describeEverySink } from './sink-suite.ts';

const WAIT = { timeout: 60_000, interval: 20 };
const QUICK = { mail_backoff_ms_min: 20, mail_backoff_ms_max: 100 } as const;

let authority: Authority;
beforeAll(() => {
  authority = makeCertificate();
});

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

function commit(history: History, sequence: number, given: Partial<ReturnType<typeof notice>> = {}): void {
  must(history.commitMinute(minute(sequence, { messages: [noticeMessage({ ...notice(sequence), ...given })] })));
}

interface SinkWishes {
  readonly port: number;
  readonly history: History;
  readonly password?: string;
  readonly limits?: Partial<MailLimits>;
  readonly options?: Partial<MailOptions>;
  readonly report?: (code: ErrorCode, message: string) => void;
}

function sinkOf({ port, history, password = 'right', limits = {}, options = {}, report }: SinkWishes): MailSink {
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

async function rig(wishes: Partial<ServerWishes> = {}, given: Partial<SinkWishes> = {}) {
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

describe('what every sink owes', () => {
  describeEverySink({
    name: 'mail',
    codes: { unreachable: 'mail_unreachable', login: 'mail_not_authorised' },
    start: async () => {
      const { port, letters, stop } = await startMailServer({ authority });
      const numbers = (text = '') => [...(/numbers: ([\d ]*);/.exec(text)?.[1] ?? '').matchAll(/\d+/g)].map(Number);
      return { port, stop, arrived: () => letters.flatMap(({ parts }) => numbers(parts[0]?.content)) };
    },
    make: ({ port, history, password, patience_ms, report }) =>
      sinkOf({ port, history, password, limits: { mail_silence_ms_max: patience_ms }, report: (code) => report(code) }),
    commit: (history, sequence) => commit(history, sequence),
  });
});

describe('TLS', () => {
  test.each(['starttls', 'implicit'] as const)('%s: nothing is said before it', async (security) => {
    const { server, history, sink, settled } = await rig({ security });
    const other = sinkOf({
      port: server.port,
      history,
      options: {
        server: {
          host: '127.0.0.1',
          port: server.port,
          security,
          username: 'agent',
          password: 'right',
          ca: authority.ca,
        },
      },
    });
    await sink.stop();
    other.start();
    onTestFinished(() => other.stop());
    commit(history, 1);
    other.wake();
    await settled();
    expect(server.letters).toHaveLength(1);
    expect(server.safe).toEqual([true]);
  });

  test.each([
    ['of an authority that nobody named', () => undefined, undefined],
    ['of another authority', () => makeCertificate().ca, undefined],
    ['of another name', (right: Authority) => right.ca, 'DNS:elsewhere.example'],
  ])('a certificate %s: nothing is sent, and said why', async (_, caOf, names) => {
    const own = names === undefined ? authority : makeCertificate(names);
    const server = await startMailServer({ authority: own });
    onTestFinished(() => server.stop());
    const history = open();
    const ca = caOf(own);
    const sink = sinkOf({
      port: server.port,
      history,
      options: {
        server: {
          host: '127.0.0.1',
          port: server.port,
          security: 'starttls',
          username: 'agent',
          password: 'right',
          ...(ca === undefined ? {} : { ca }),
        },
      },
    });
    onTestFinished(() => sink.stop());
    sink.start();
    commit(history, 1);
    await vi.waitUntil(() => sink.status().code !== null, WAIT);
    expect(sink.status()).toMatchObject({ state: 'lost', code: 'mail_tls' });
    expect(sink.status().counters['waiting']).toBe(1);
    expect(server.letters).toEqual([]);
    expect(server.safe).toEqual([]);
  });

  test('a server without STARTTLS gets neither password nor alarm', async () => {
    const { server, history, sink } = await rig({ options: { hideSTARTTLS: true, disabledCommands: ['STARTTLS'] } });
    sink.start();
    commit(history, 1);
    await vi.waitUntil(() => sink.status().code !== null, WAIT);
    expect(sink.status().code).toBe('mail_tls');
    expect(server.safe).toEqual([]);
  });
});

describe('what the server says', () => {
  test('a refused recipient is counted and told once; the others get it, and the alarm is settled', async () => {
    const { server, history, sink, reports, settled } = await rig(
      { recipient: (address) => (address.startsWith('gone') ? { code: 550, text: '5.1.1 no such box' } : null) },
      {
        options: {
          to: ['team@quay.example', 'gone@quay.example'].map((address) => ({
            address,
            priorities: [1, 2, 3] as const,
          })),
        },
      },
    );
    sink.start();
    commit(history, 1);
    await settled();
    commit(history, 2);
    sink.wake();
    await settled();
    expect(server.letters.map(({ to }) => to)).toEqual([['team@quay.example'], ['team@quay.example']]);
    expect(history.outbox.counts('mail')).toMatchObject({ accepted: 2, rejected: 0 });
    expect(sink.status().counters['recipients_refused']).toBe(2);
    expect(reports).toEqual([
      ['mail_recipient_refused', expect.stringMatching(/gone@quay\.example.*550.*no such box/)],
    ]);
  });

  test('where every recipient is refused the alarm is given up and counted, and the next mail says so', async () => {
    let refuse = true;
    const { server, history, sink, settled } = await rig({
      recipient: () => (refuse ? { code: 550, text: 'no' } : null),
    });
    sink.start();
    commit(history, 1);
    await vi.waitUntil(() => history.outbox.counts('mail').rejected > 0, WAIT);
    refuse = false;
    commit(history, 2);
    sink.wake();
    await settled();
    expect(history.outbox.counts('mail').rejected).toBeGreaterThanOrEqual(1);
    const text = server.letters.map(({ parts }) => parts[0]?.content).join('\n');
    expect(text).toMatch(/numbers: .*2/);
  });

  test('a recipient that is deferred gets the same mail later, the others once; others do not wait for him', async () => {
    let slow = true;
    const { server, history, sink, settled } = await rig(
      { recipient: (address) => (address.startsWith('slow') && slow ? { code: 451, text: '4.7.1 greylisted' } : null) },
      {
        options: {
          to: ['team@quay.example', 'slow@quay.example'].map((address) => ({
            address,
            priorities: [1, 2, 3] as const,
          })),
        },
      },
    );
    sink.start();
    commit(history, 1);
    await vi.waitUntil(() => server.letters.length === 1, WAIT);
    commit(history, 2);
    sink.wake();
    await vi.waitUntil(() => server.letters.length === 2, WAIT);
    expect(history.outbox.counts('mail').waiting).toBe(2);
    slow = false;
    await settled();
    const got = server.letters.map(({ to, headers }) => `${to.join()} ${headers.get('message-id')}`).sort();
    const name = (n: number) => `<condenser-approach.${n}.raised.CH-1.kestrel-quay@quay.example>`;
    expect(got).toEqual([
      `slow@quay.example ${name(1)}`,
      `slow@quay.example ${name(2)}`,
      `team@quay.example ${name(1)}`,
      `team@quay.example ${name(2)}`,
    ]);
    expect(history.outbox.counts('mail')).toMatchObject({ accepted: 2, rejected: 0 });
  });

  test('a recipient that is deferred for too long is given up and told', async () => {
    const { history, sink, reports, settled } = await rig(
      { recipient: () => ({ code: 452, text: '4.2.2 box full' }) },
      { limits: { mail_deferred_ms_max: 200 } },
    );
    sink.start();
    commit(history, 1);
    await settled();
    expect(reports.at(-2)?.[0] === 'mail_recipient_refused' || reports.at(-1)?.[0] === 'mail_recipient_refused').toBe(
      true,
    );
    expect(history.outbox.counts('mail').accepted).toBe(0);
  });

  test('421 and 451 for the whole mail keep it until it is taken', async () => {
    let left = 3;
    const { server, history, sink, settled, reports } = await rig({
      data: () => (left-- > 0 ? { code: 451, text: '4.3.0 try later' } : null),
    });
    sink.start();
    commit(history, 1);
    await settled();
    expect(server.letters).toHaveLength(1);
    expect(reports.map(([code]) => code)).toContain('mail_deferred');
    expect(history.outbox.counts('mail')).toMatchObject({ accepted: 1, rejected: 0 });
  });

  test('554 after the data gives the mail up with a counted reason; the next one goes through', async () => {
    const { server, history, sink, settled, reports, numbers } = await rig({
      data: ({ parts }) =>
        parts[0]?.content.includes('numbers: 1;') ? { code: 554, text: '5.6.0 content refused' } : null,
    });
    sink.start();
    commit(history, 1);
    await vi.waitUntil(() => history.outbox.counts('mail').rejected === 1, WAIT);
    commit(history, 2);
    sink.wake();
    await settled();
    expect(reports[0]).toEqual(['mail_refused', expect.stringContaining('554 5.6.0 content refused')]);
    expect(reports[0]?.[1]).toContain('1 alarm message given up');
    expect(numbers().join(' ')).toContain('2');
    // What was given up is told in its place, by number.
    expect(server.letters.map(({ parts }) => parts[0]?.content).join()).toContain('lost: 1-1 1');
  });

  test('552: the same mail goes again without its attachments', async () => {
    const { server, history, sink, settled } = await rig({
      data: ({ parts }) =>
        parts.some(({ filename }) => filename !== null) ? { code: 552, text: '5.3.4 too big' } : null,
    });
    sink.start();
    commit(history, 1);
    await settled();
    expect(server.letters).toHaveLength(1);
    expect(server.letters[0]?.headers.get('message-id')).toBe(
      '<condenser-approach.1.raised.CH-1.kestrel-quay@quay.example>',
    );
    expect(history.outbox.counts('mail')).toMatchObject({ accepted: 1, rejected: 0 });
  });

  test('a sender that is refused is tried a bounded number of times, then given up and counted', async () => {
    let tries = 0;
    const { history, sink } = await rig(
      {
        sender: () => {
          tries += 1;
          return { code: 550, text: '5.7.1 sender not allowed' };
        },
      },
      { limits: { mail_refusals_max: 3 } },
    );
    sink.start();
    commit(history, 1);
    await vi.waitUntil(() => history.outbox.counts('mail').rejected === 1, WAIT);
    expect(tries).toBe(3);
  });
});

describe('what is sent', () => {
  test('headers: name by alarm and minute, thread by alarm, importance by priority, no answer wanted', async () => {
    const { server, history, sink, settled } = await rig();
    sink.start();
    commit(history, 7, { priority: 1 });
    await settled();
    const [letter] = server.letters;
    expect(letter?.headers.get('message-id')).toBe('<condenser-approach.7.raised.CH-1.kestrel-quay@quay.example>');
    expect(letter?.headers.get('references')).toBe('<condenser-approach.CH-1.kestrel-quay@quay.example>');
    expect(letter?.headers.get('subject')).toBe('alarm 1 – é');
    expect(letter?.headers.get('from')).toMatch(/Tonhour, Kestrel Quay"? <tonhour@quay\.example>/);
    expect(letter?.headers.get('auto-submitted')).toBe('auto-generated');
    expect(letter?.headers.get('importance')).toBe('High');
    expect(letter?.parts.map(({ type }) => type)).toEqual(['text/plain', 'text/html', 'text/csv']);
  });

  test('each priority goes to those who asked for it', async () => {
    const { server, history, sink, settled } = await rig(
      {},
      {
        options: {
          to: [
            { address: 'night@quay.example', priorities: [1] },
            { address: 'team@quay.example', priorities: [1, 2] },
          ],
        },
      },
    );
    commit(history, 1, { priority: 2 });
    commit(history, 2, { priority: 1 });
    commit(history, 3, { priority: 3 });
    sink.start();
    await settled();
    expect(server.letters.map(({ to }) => to)).toEqual([
      ['night@quay.example', 'team@quay.example'],
      ['team@quay.example'],
    ]);
    expect(history.outbox.counts('mail')).toMatchObject({ accepted: 2 });
  });

  test('ten thousand alarms in a flood make a digest, and each of them is in its table', async () => {
    const { server, history, sink, settled } = await rig();
    for (let from = 1; from <= 10_000; from += 500) {
      const numbers = Array.from({ length: 500 }, (_, i) => from + i);
      must(history.commitMinute(minute(from, { messages: numbers.map((n) => noticeMessage(notice(n))) })));
    }
    sink.start();
    await settled();
    expect(server.letters).toHaveLength(1);
    const table = server.letters[0]?.parts.find(({ filename }) => filename === 'alarms.csv')?.content ?? '';
    const rows = table.trim().split('\n').slice(1).map(Number);
    expect(rows).toHaveLength(10_000);
    expect(new Set(rows).size).toBe(10_000);
    expect(history.outbox.counts('mail')).toMatchObject({ accepted: 10_000, rejected: 0, dropped: 0 });
    expect(sink.status().counters).toMatchObject({ digests: 1, mails: 0 });
  });

  test('beyond the rate alarms wait and leave together; the last mail of the rate is kept for priority 1', async () => {
    let now = Date.UTC(2026, 6, 1);
    const { server, history, sink, numbers, settled } = await rig({}, { options: { per_hour: 6, now: () => now } });
    sink.start();
    for (const sequence of [1, 2]) {
      commit(history, sequence);
      sink.wake();
      await vi.waitUntil(() => server.letters.length === sequence, WAIT);
    }
    // Three are allowed at once, one of them for priority 1 alone.
    for (const sequence of [3, 4, 5]) commit(history, sequence);
    commit(history, 6, { priority: 1, id: 'chilled-water-cold' });
    sink.wake();
    await vi.waitUntil(() => server.letters.length === 3, WAIT);
    expect(server.letters[2]?.headers.get('importance')).toBe('High');
    now += 3_600_000;
    commit(history, 7);
    sink.wake();
    await settled();
    expect(
      numbers()
        .flatMap((each) => (each ?? '').split(' '))
        .map(Number)
        .sort((a, b) => a - b),
    ).toEqual([1, 2, 3, 4, 5, 6, 7]);
    expect(server.letters.length).toBeLessThanOrEqual(5);
  });
});
