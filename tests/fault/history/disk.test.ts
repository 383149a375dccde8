/**
 * Goal: a store that takes nothing costs no minute that fits in memory, is said by its code, and ends by itself when
 * there is room again. SQLite's own page bound gives its real answer to a full disk; a child under a file size limit of
 * the system meets a real refused write.
 */
import { execFile } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import type { History } from '../../../agent/history/history.ts';
import { oneTransaction } from '../../../agent/history/store.ts';
import type { HistoryOptions, Transactional } from '../../../agent/history/types.ts';
import { message, minute, open, temporaryFolder } from '../../unit/history/helpers.ts';

const ALL = { chiller: 'CH-1', from: 0, to: Number.MAX_SAFE_INTEGER };
const LARGE = { messages: [], record: JSON.stringify({ values: {}, filling: 'x'.repeat(20_000) }) };

interface Bounded {
  readonly history: History;
  /** Pages the file may have; the smallest it takes is what it has. */
  readonly pages: (count: number) => void;
}

function bounded(options: Partial<HistoryOptions> = {}): Bounded {
  let database: Transactional | null = null;
  const history = open({
    ...options,
    transaction: (given, work) => {
      database = given;
      oneTransaction(given, work);
    },
  });
  must(history.commitMinute(minute(1, { messages: [] })));
  return { history, pages: (count) => database?.exec(`PRAGMA max_page_count = ${count}`) };
}

function count(from: number, to: number): number[] {
  return Array.from({ length: to - from + 1 }, (_, index) => from + index);
}

/** Commits large minutes until the store is full; answers the last number that was stored. */
function fillUp(history: History): number {
  for (let sequence = 2; ; sequence++) {
    const outcome = history.commitMinute(minute(sequence, LARGE));
    if (outcome.ok) continue;
    expect(outcome.fault.code).toBe('history_disk_full');
    return sequence - 1;
  }
}

test('full: said, counted, kept in order, nothing published before it is stored; stored when there is room', () => {
  const folder = temporaryFolder();
  const { history, pages } = bounded({ folder });
  pages(60);
  const stored = fillUp(history);
  expect(stored).toBeGreaterThan(3);
  // Small minutes behind it, which there may be room for, must not overtake the one that waits.
  for (const sequence of count(stored + 2, stored + 5)) {
    const outcome = history.commitMinute(minute(sequence));
    if (outcome.ok) throw new Error('stored');
    expect(outcome.fault.message).toContain(folder);
    expect(outcome.fault.message).toContain(`${sequence - stored} minutes wait in memory`);
  }
  expect(history.counters()).toMatchObject({ pending: 5, commit_failures: 5, minutes_dropped: 0 });
  expect(must(history.loadState('CH-1'))?.sequence).toBe(stored);
  expect(history.outbox.oldest('mqtt', 10)).toEqual([]);
  expect(must(history.latestRecord('CH-1'))?.sequence).toBe(stored); // what the page asks for is still read

  pages(100_000);
  expect(must(history.commitMinute(minute(stored + 6)))).toEqual({ committed: 6, pending: 0 });
  expect([...history.minutes(ALL)].map(({ sequence }) => sequence)).toEqual(count(1, stored + 6));
  expect(history.outbox.oldest('mqtt', 10).map(({ sequence }) => sequence)).toEqual(count(stored + 2, stored + 6));
});

test('a minute that was half written when the disk filled leaves nothing behind, in the file and in the counts', () => {
  const { history, pages } = bounded();
  must(history.commitMinute(minute(2)));
  pages(1);
  const many = count(1, 500).map(() => message(3, { payload: 'x'.repeat(500) }));
  expect(history.commitMinute(minute(3, { messages: many })).ok).toBe(false);
  expect(history.outbox.counts('mqtt').waiting).toBe(1);
  expect(history.outbox.oldest('mqtt', 10).map(({ sequence }) => sequence)).toEqual([2]);
  pages(100_000);
  must(history.retry());
  expect(history.outbox.counts('mqtt').waiting).toBe(501);
});

test('more minutes than memory may hold: the oldest are given up, and a gap record goes out before what follows', () => {
  const reports: string[] = [];
  const { history, pages } = bounded({
    limits: { history_pending_max: 3 },
    report: ({ code }) => reports.push(code),
  });
  pages(1);
  const large = (sequence: number) => minute(sequence, { record: LARGE.record });
  const stored = (() => {
    for (let sequence = 2; ; sequence++) if (!history.commitMinute(large(sequence)).ok) return sequence - 1;
  })();
  for (const sequence of count(stored + 2, stored + 7)) history.commitMinute(large(sequence));
  expect(history.counters()).toMatchObject({ pending: 3, minutes_dropped: 4 });
  expect(reports).toContain('history_dropped');
  pages(100_000);
  must(history.retry());
  const sent = history.outbox.oldest('mqtt', 100).map(({ payload }) => JSON.parse(payload));
  expect(sent).toEqual([
    ...count(2, stored).map((sequence) => ({ sequence })),
    { gap: { from_sequence: stored + 1, to_sequence: stored + 4, count: 4 } },
    ...count(stored + 5, stored + 7).map((sequence) => ({ sequence })),
  ]);
  // Told once, not with each minute that follows.
  must(history.commitMinute(minute(stored + 8)));
  expect(history.outbox.oldest('mqtt', 100).filter(({ payload }) => payload.includes('gap'))).toHaveLength(1);
});

test('a backlog is committed by bounded portions, so that no call holds the minute up for long', () => {
  const { history, pages } = bounded();
  pages(1);
  const last = fillUp(history) + 101;
  for (const sequence of count(last - 99, last)) history.commitMinute(minute(sequence));
  pages(100_000);
  const portions: number[] = [];
  while (history.counters().pending > 0) portions.push(must(history.retry()).committed);
  expect(Math.max(...portions)).toBe(32);
  expect(portions.reduce((sum, each) => sum + each, 0)).toBe(101);
});

test('a sink may settle while the disk is full: not sent again, and removed once there is room', () => {
  const refusal = Object.assign(new Error('database or disk is full'), { errcode: 13 });
  let full = false;
  const history = open({
    transaction: (database, work) => {
      if (full) throw refusal;
      oneTransaction(database, work);
    },
  });
  for (const sequence of [1, 2, 3]) must(history.commitMinute(minute(sequence)));
  const [first] = history.outbox.oldest('mqtt', 1);
  full = true;
  history.outbox.settle(first?.id as number, 'accept');
  expect(history.outbox.oldest('mqtt', 5).map(({ sequence }) => sequence)).toEqual([2, 3]);
  full = false;
  const [second] = history.outbox.oldest('mqtt', 1);
  history.outbox.settle(second?.id as number, 'accept');
  expect(history.outbox.counts('mqtt')).toMatchObject({ waiting: 1, accepted: 2 });
  expect(history.outbox.oldest('mqtt', 5).map(({ sequence }) => sequence)).toEqual([3]);
});

test('the system refuses the write (limit of file size): the process lives, reads, and keeps the minutes', async () => {
  const child = fileURLToPath(new URL('limited.ts', import.meta.url));
  const script = 'ulimit -f 1024; exec "$0" "$1" "$2"';
  const run = await promisify(execFile)('sh', ['-c', script, process.execPath, child, temporaryFolder()]);
  const found = JSON.parse(run.stdout);
  expect(['history_io', 'history_disk_full']).toContain(found.code);
  expect(found.stored).toBeGreaterThan(5);
  expect(found).toMatchObject({ latest: found.stored, pending: 3 });
  expect(found.waiting).toBe(found.stored);
});
