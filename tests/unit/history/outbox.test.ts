/** Goal: the outbox keeps order, counts what it holds, and tells the stream of every number that its bound gives up. */
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import type { History } from '../../../agent/history/history.ts';
import { message, minute, open, temporaryFolder } from './helpers.ts';

function payloads(history: History, sink = 'mqtt'): unknown[] {
  return history.outbox.oldest(sink, 1000).map(({ payload }) => JSON.parse(payload));
}

test('beyond its bound the oldest go, and one gap record stands where they were', () => {
  const reports: string[] = [];
  const history = open({ limits: { outbox_messages_max: 4 }, report: ({ code }) => reports.push(code) });
  for (let sequence = 1; sequence <= 10; sequence++) must(history.commitMinute(minute(sequence)));
  expect(payloads(history)).toEqual([
    { gap: { from_sequence: 1, to_sequence: 7, count: 7 } },
    { sequence: 8 },
    { sequence: 9 },
    { sequence: 10 },
  ]);
  const counts = history.outbox.counts('mqtt');
  expect(counts).toMatchObject({ waiting: 4, dropped: 7, accepted: 0, rejected: 0 });
  expect(reports).toContain('history_dropped');
  expect(counts.bytes).toBe(bytesOf(history));
});

test('the bound by bytes counts address and payload', () => {
  const history = open({ limits: { outbox_bytes_max: 400 } });
  for (let sequence = 1; sequence <= 20; sequence++) must(history.commitMinute(minute(sequence)));
  expect(history.outbox.counts('mqtt').bytes).toBeLessThanOrEqual(400);
  expect(history.outbox.counts('mqtt').bytes).toBe(bytesOf(history));
  expect(payloads(history).at(-1)).toEqual({ sequence: 20 });
});

test('each chiller and each topic has its gap record, and its order', () => {
  const history = open({ limits: { outbox_messages_max: 5 } });
  for (let sequence = 1; sequence <= 6; sequence++)
    for (const chiller of ['CH-1', 'CH-2']) must(history.commitMinute(minute(sequence, { chiller })));
  const of = (chiller: string) =>
    history.outbox
      .oldest('mqtt', 100)
      .filter((found) => found.chiller === chiller)
      .map(({ payload }) => JSON.parse(payload));
  expect(of('CH-1')).toEqual([{ gap: { from_sequence: 1, to_sequence: 5, count: 5 } }, { sequence: 6 }]);
  expect(of('CH-2')).toEqual([
    { gap: { from_sequence: 1, to_sequence: 4, count: 4 } },
    { sequence: 5 },
    { sequence: 6 },
  ]);
});

test('a gap record is never retained, and a message outside the numbered stream leaves none', () => {
  const history = open({ limits: { outbox_messages_max: 2 } });
  must(history.commitMinute(minute(1, { messages: [message(1, { retain: true })] })));
  must(
    history.commitMinute(minute(2, { messages: [message(null, { address: 'tonhour/kestrel-quay/CH-1/alarms/a' })] })),
  );
  must(history.commitMinute(minute(3)));
  const [gap, last, ...more] = history.outbox.oldest('mqtt', 10);
  expect(gap).toMatchObject({ sequence: 1, retain: false, payload: expect.stringContaining('gap') });
  expect(last).toMatchObject({ sequence: 3 });
  expect(more).toEqual([]);
  expect(history.outbox.counts('mqtt').dropped).toBe(2);
});

test('an acknowledgement under way for a message that the bound dropped does not remove its gap record', () => {
  const history = open({ limits: { outbox_messages_max: 2 } });
  must(history.commitMinute(minute(1)));
  const underWay = history.outbox.oldest('mqtt', 1)[0];
  for (const sequence of [2, 3, 4]) must(history.commitMinute(minute(sequence)));
  history.outbox.settle(underWay?.id as number, 'accept');
  expect(payloads(history)).toEqual([{ gap: { from_sequence: 1, to_sequence: 3, count: 3 } }, { sequence: 4 }]);
});

test('a gap record does not swallow a number that still waits behind it', () => {
  const history = open();
  for (const sequence of [1, 2, 3]) must(history.commitMinute(minute(sequence)));
  const [first, , third] = history.outbox.oldest('mqtt', 3);
  history.outbox.settle(first?.id as number, 'reject');
  history.outbox.settle(third?.id as number, 'reject');
  expect(payloads(history)).toEqual([
    { gap: { from_sequence: 1, to_sequence: 1, count: 1 } },
    { sequence: 2 },
    { gap: { from_sequence: 3, to_sequence: 3, count: 1 } },
  ]);
});

test('accept and reject remove, keep leaves; a rejected gap record goes for good', () => {
  const history = open();
  for (const sequence of [1, 2]) must(history.commitMinute(minute(sequence)));
  const [first, second] = history.outbox.oldest('mqtt', 2);
  history.outbox.settle(first?.id as number, 'keep');
  expect(payloads(history)).toHaveLength(2);
  history.outbox.settle(first?.id as number, 'accept');
  history.outbox.settle(second?.id as number, 'reject');
  const [gap] = history.outbox.oldest('mqtt', 2);
  history.outbox.settle(gap?.id as number, 'reject');
  expect(payloads(history)).toEqual([]);
  expect(history.outbox.counts('mqtt')).toEqual({ waiting: 0, bytes: 0, accepted: 1, rejected: 2, dropped: 0 });
});

test('sinks do not see each other', () => {
  const history = open();
  must(history.commitMinute(minute(1, { messages: [message(1), message(1, { sink: 'mail', address: 'someone' })] })));
  const [mail] = history.outbox.oldest('mail', 5);
  history.outbox.settle(mail?.id as number, 'accept');
  expect(history.outbox.counts('mail').waiting).toBe(0);
  expect(history.outbox.counts('mqtt').waiting).toBe(1);
});

/**
 * What arrives and what gap records announce, together, is every number once; whatever is settled, dropped or restarted
 * between.
 */
test('property: numbers delivered and numbers announced as gaps cover the stream without a hole', () => {
  const step = fc.oneof(
    { weight: 4, arbitrary: fc.constant('commit' as const) },
    { weight: 3, arbitrary: fc.constant('accept' as const) },
    { weight: 1, arbitrary: fc.constant('reject' as const) },
    { weight: 1, arbitrary: fc.constant('restart' as const) },
  );
  fc.assert(
    fc.property(fc.array(step, { maxLength: 60 }), fc.integer({ min: 2, max: 6 }), (steps, outbox_messages_max) => {
      const folder = temporaryFolder();
      const limits = { outbox_messages_max };
      let history = open({ folder, limits });
      let sequence = 0;
      const known = new Set<number>();
      const take = (delivery: 'accept' | 'reject') => {
        const [oldest] = history.outbox.oldest('mqtt', 1);
        if (oldest === undefined) return;
        const { gap, sequence: number } = JSON.parse(oldest.payload);
        const fresh = gap === undefined ? [number] : numbers(gap.from_sequence, gap.to_sequence);
        if (delivery === 'reject' && gap !== undefined) return; // a refused gap record is lost by decision
        if (delivery === 'accept') for (const each of fresh) known.add(each);
        history.outbox.settle(oldest.id, delivery);
      };
      for (const each of steps) {
        if (each === 'commit') must(history.commitMinute(minute(++sequence)));
        else if (each === 'restart') {
          history.close();
          history = open({ folder, limits });
        } else take(each);
        expect(history.outbox.counts('mqtt').waiting).toBeLessThanOrEqual(outbox_messages_max);
        expect(history.outbox.counts('mqtt').bytes).toBe(bytesOf(history));
      }
      while (history.outbox.counts('mqtt').waiting > 0) take('accept');
      expect([...known].sort((a, b) => a - b)).toEqual(numbers(1, sequence));
      history.close();
    }),
    { numRuns: 60, seed: 7 },
  );
});

function numbers(from: number, to: number): number[] {
  return Array.from({ length: to - from + 1 }, (_, index) => from + index);
}

function bytesOf(history: History): number {
  return history.outbox
    .oldest('mqtt', 1000)
    .reduce((sum, { payload, address }) => sum + Buffer.byteLength(payload) + Buffer.byteLength(address), 0);
}

test('what left as one is settled as one: all of it, in one transaction, and nothing else', () => {
  let transactions = 0;
  const history = open({
    transaction: (database, work) => {
      transactions++;
      database.exec('BEGIN');
      work();
      database.exec('COMMIT');
    },
  });
  for (let sequence = 1; sequence <= 5; sequence++) must(history.commitMinute(minute(sequence)));
  const ids = history.outbox.oldest('mqtt', 3).map(({ id }) => id);
  const before = transactions;
  history.outbox.settleAll(ids, 'keep');
  expect(payloads(history)).toHaveLength(5);
  history.outbox.settleAll(ids, 'accept');
  expect(transactions - before).toBe(1);
  expect(payloads(history)).toEqual([{ sequence: 4 }, { sequence: 5 }]);
  expect(history.outbox.counts('mqtt')).toMatchObject({ waiting: 2, accepted: 3 });
});
