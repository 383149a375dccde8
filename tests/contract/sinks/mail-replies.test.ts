/** What a mail server may say of a mail or of a recipient (RFC 5321, RFC 1870), and what becomes of the alarm. */
import { describe, expect, test, vi } from 'vitest';
import { commit, rig, WAIT } from './mail-rig.ts';

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
