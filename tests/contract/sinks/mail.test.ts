/** The mail sink against a real mail server: what every sink owes, TLS in both ways, and what is sent. */
import { describe, expect, onTestFinished, test, vi } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { noticeMessage } from '../../../agent/callout/notice.ts';
import { notice } from '../../unit/callout/notices.ts';
import { minute, open } from '../../unit/history/helpers.ts';
import { authority, commit, rig, sinkOf, WAIT } from './mail-rig.ts';
import { type Authority, makeCertificate, startMailServer } from './mail-server.ts';
import { describeEverySink } from './sink-suite.ts';

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
