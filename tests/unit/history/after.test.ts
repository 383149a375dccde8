/**
 * Goal: minutes read a part at a time are the same as read at once, each once and in order, whatever is packed in
 * between; memory is that of a part.
 */
import { expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { must } from '../../../agent/base/result.ts';
import { HistoryReader } from '../../../agent/history/reader.ts';
import { minute, open, START, temporaryFolder } from './helpers.ts';

const COUNT = 3 * LIMITS.minutes_unpacked_max + 7;

function rig(times: (sequence: number) => number = (sequence) => START + sequence * 60_000) {
  const folder = temporaryFolder();
  const history = open({ folder });
  const commit = (from: number, to: number): void => {
    for (let sequence = from; sequence <= to; sequence++)
      must(history.commitMinute(minute(sequence, { time: times(sequence) })));
  };
  commit(1, COUNT);
  return { reader: must(HistoryReader.open(folder)), commit };
}

const ALL = { chiller: 'CH-1', from: START, to: START + 365 * 86_400_000 };

/** `between` is called after each part. */
function inParts(reader: HistoryReader, query: typeof ALL, between: () => void = () => undefined) {
  const parts: number[][] = [];
  for (let last = 0; ; ) {
    const found = must(reader.minutesAfter(query, last));
    if (found.length === 0) return parts;
    parts.push(found.map(({ sequence }) => sequence));
    last = found.at(-1)?.sequence ?? 0;
    between();
  }
}

const upTo = (count: number): number[] => Array.from({ length: count }, (_, index) => index + 1);

test('all of them, a block at a time, then the newest', () => {
  const { reader } = rig();
  const parts = inParts(reader, ALL);
  expect(parts.flat()).toEqual(upTo(COUNT));
  expect(parts.length).toBeGreaterThan(3);
  expect(Math.max(...parts.map((part) => part.length))).toBeLessThanOrEqual(LIMITS.minutes_unpacked_max);
  reader.close();
});

test('of a span within blocks, what lies in it, as read at once', () => {
  const { reader } = rig();
  const query = { ...ALL, from: START + 50 * 60_000, to: START + 130 * 60_000 };
  const once = must(reader.minutes(query)).map(({ sequence }) => sequence);
  expect(once).toEqual(upTo(130).slice(49));
  expect(inParts(reader, query).flat()).toEqual(once);
  reader.close();
});

test('minutes that are packed meanwhile come once, and new ones too', () => {
  const { reader, commit } = rig();
  let count = COUNT;
  const parts = inParts(reader, ALL, () => {
    if (count >= COUNT + 4 * LIMITS.minutes_per_block) return;
    commit(count + 1, count + LIMITS.minutes_per_block);
    count += LIMITS.minutes_per_block;
  });
  expect(parts.flat()).toEqual(upTo(count));
  reader.close();
});

test('a clock that was set back does not lose minutes or give them twice', () => {
  const back = LIMITS.minutes_per_block + 20;
  const { reader } = rig((sequence) => START + (sequence > back ? sequence - 40 : sequence) * 60_000);
  expect(inParts(reader, ALL).flat()).toEqual(upTo(COUNT));
  reader.close();
});

test('records come back as they were committed', () => {
  const { reader } = rig();
  const [first] = must(reader.minutesAfter(ALL, 0));
  expect(JSON.parse(first?.record ?? '')).toEqual({ sequence: 1, values: { 'unit.power': 1 } });
  reader.close();
});
