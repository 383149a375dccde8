/** Goal: packing loses nothing, trends say what the minutes said, and every bound of the store holds. */
import { expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { must } from '../../../agent/base/result.ts';
import type { History } from '../../../agent/history/history.ts';
import { minute, open, START, temporaryFolder } from './helpers.ts';

const ALL = { chiller: 'CH-1', from: 0, to: Number.MAX_SAFE_INTEGER };

/**
 * A record with everything that is awkward: missing values, names that come and go, doubts, long fractions, further
 * keys.
 */
function record(sequence: number): string {
  return JSON.stringify({
    time: new Date(START + sequence * 60_000).toISOString(),
    sequence,
    state: sequence % 7 === 0 ? 'standstill' : 'steady',
    values: {
      'unit.power': sequence / 3,
      'evaporator.pressure': sequence % 5 === 0 ? null : 350 + sequence,
      ...(sequence > 70 ? { 'purge.run_time': 0.1 } : {}),
    },
    uncertainty: sequence % 5 === 0 ? {} : { 'evaporator.pressure': 1.25 },
    quality: sequence % 5 === 0 ? { 'evaporator.pressure': { quality: 'bad', reason: 'sentinel "32767"' } } : {},
    points: { 'oil.temperature': 55 - sequence * 1e-3 },
    further: [sequence, { deep: null }],
  });
}

function fill(history: History, count: number): void {
  for (let sequence = 1; sequence <= count; sequence++)
    must(history.commitMinute(minute(sequence, { record: record(sequence), messages: [] })));
}

test('packed minutes come back as they were, in order, over a restart', () => {
  const folder = temporaryFolder();
  const first = open({ folder });
  const count = 2 * LIMITS.minutes_unpacked_max + 30;
  fill(first, count);
  first.close();
  const found = [...open({ folder }).minutes(ALL)];
  expect(found.map(({ sequence }) => sequence)).toEqual(Array.from({ length: count }, (_, index) => index + 1));
  for (const { sequence, time, record: text } of found) {
    expect(time).toBe(START + sequence * 60_000);
    expect(text).toBe(record(sequence));
  }
});

test('a part of the minutes is found by its times, across packed and unpacked', () => {
  const history = open();
  fill(history, 150);
  const from = START + 20 * 60_000;
  const found = [...history.minutes({ chiller: 'CH-1', from, to: START + 140 * 60_000 })];
  expect([found[0]?.sequence, found.at(-1)?.sequence, found.length]).toEqual([20, 140, 121]);
});

test('a trend of the stored resolution gives each value, packed or not, null where it was missing', () => {
  const history = open();
  fill(history, 130);
  const { step_s, buckets } = must(history.series({ ...ALL, name: 'evaporator.pressure', step_s: 0 }));
  expect(step_s).toBe(0);
  expect(buckets).toHaveLength(130);
  buckets.forEach(({ time, least, greatest, mean }, index) => {
    const sequence = index + 1;
    const value = sequence % 5 === 0 ? null : 350 + sequence;
    expect({ time, least, greatest, mean }).toEqual({
      time: START + sequence * 60_000,
      least: value,
      greatest: value,
      mean: value,
    });
  });
});

test('buckets hold least, greatest and mean of the intervals that end within them; a gap in time is null', () => {
  const history = open();
  // 1 to 10, then half an hour of nothing, then 41 to 50; START is a whole hour.
  for (const sequence of [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 41, 42, 43, 44, 45, 46, 47, 48, 49, 50])
    must(history.commitMinute(minute(sequence, { messages: [] })));
  const { step_s, buckets } = must(history.series({ ...ALL, name: 'unit.power', step_s: 600 }));
  expect(step_s).toBe(600);
  expect(buckets.map(({ time, ...rest }) => ({ minutes: (time - START) / 60_000, ...rest }))).toEqual([
    { minutes: 10, least: 1, greatest: 10, mean: 5.5 },
    { minutes: 20, least: null, greatest: null, mean: null },
    { minutes: 30, least: null, greatest: null, mean: null },
    { minutes: 40, least: null, greatest: null, mean: null },
    { minutes: 50, least: 41, greatest: 50, mean: 45.5 },
  ]);
});

test('a point of the records has a trend too; a name nobody stored has none', () => {
  const history = open();
  fill(history, 130);
  const points = must(history.series({ ...ALL, name: 'oil.temperature', step_s: 0 })).buckets;
  expect(points[0]?.mean).toBe(55 - 1e-3);
  expect(points[129]?.mean).toBe(55 - 130e-3);
  const late = must(history.series({ ...ALL, name: 'purge.run_time', step_s: 0 })).buckets;
  expect(late.filter(({ mean }) => mean !== null)).toHaveLength(60);
  const none = must(history.series({ ...ALL, name: 'no.such', step_s: 3600 })).buckets;
  expect(none.every(({ mean }) => mean === null)).toBe(true);
  for (const name of ['a"b', '"', 'unit.power" || 1 --', '$.sequence', "a'b"])
    expect(must(history.series({ ...ALL, name, step_s: 0 })).buckets.every(({ mean }) => mean === null)).toBe(true);
  expect(must(history.series({ ...ALL, chiller: 'CH-9', name: 'unit.power', step_s: 60 })).buckets).toEqual([]);
});

test('no answer has more points than its bound: the step widens to a multiple of what was asked', () => {
  const history = open();
  must(history.commitMinute(minute(1, { messages: [] })));
  must(history.commitMinute(minute(2, { messages: [], time: START + 400 * 24 * 3600_000 })));
  const { step_s, buckets } = must(history.series({ ...ALL, name: 'unit.power', step_s: 60 }));
  expect(buckets.length).toBeLessThanOrEqual(LIMITS.history_points_max);
  expect(step_s % 60).toBe(0);
  expect(buckets[0]?.mean).toBe(1);
  expect(buckets.at(-1)?.mean).toBe(2);
});

test('minutes beyond the bound go by the block, and the newest always stay', () => {
  const history = open({ limits: { minutes_kept_max: 200 } });
  for (let sequence = 1; sequence <= 700; sequence++) must(history.commitMinute(minute(sequence, { messages: [] })));
  const found = [...history.minutes(ALL)].map(({ sequence }) => sequence);
  expect(found.at(-1)).toBe(700);
  expect(found.length).toBeLessThanOrEqual(200 + LIMITS.minutes_per_block);
  expect(found.length).toBeGreaterThanOrEqual(200 - LIMITS.minutes_per_block);
  expect(found).toEqual(Array.from({ length: found.length }, (_, index) => 700 - found.length + 1 + index));
});

test('fast samples come back by time, and go after their time', () => {
  const history = open({ limits: { fast_kept_s_max: 120 } });
  for (let sequence = 1; sequence <= 5; sequence++) {
    const end = START + sequence * 60_000;
    const times = Float64Array.from({ length: 12 }, (_, index) => end - 60_000 + (index + 1) * 5000);
    const values = Array.from(times, (_, index) => (index === 3 ? null : sequence * 100 + index));
    must(history.commitMinute(minute(sequence, { messages: [], fast: [{ point: 'condenser.level', times, values }] })));
  }
  const query = { ...ALL, name: 'condenser.level' };
  const all = must(history.fastSeries({ ...query, step_s: 0 })).buckets;
  expect(all[0]?.time).toBe(START + 2 * 60_000 + 5000); // minutes 1 and 2 ended more than 120 s before the last
  expect(all).toHaveLength(36);
  expect(all.slice(0, 4).map(({ mean }) => mean)).toEqual([300, 301, 302, null]);
  const last = must(history.fastSeries({ ...query, step_s: 60 })).buckets.at(-1);
  expect(last).toMatchObject({ least: 500, greatest: 511, time: START + 5 * 60_000 });
});

test('the alarm journal keeps every step up to its bound; where an alarm stands is never lost', () => {
  const folder = temporaryFolder();
  const history = open({ folder, limits: { alarm_journal_rows_max: 3 } });
  const event = (id: string, sequence: number, state: string) => ({
    id,
    time: START + sequence * 60_000,
    state,
    priority: 2,
    detail: JSON.stringify({ id, state }),
  });
  const steps: [string, string][] = [
    ['high_lift', 'unacknowledged'],
    ['controller_lost', 'unacknowledged'],
    ['controller_lost', 'normal'],
    ['low_flow', 'unacknowledged'],
    ['low_flow', 'acknowledged'],
  ];
  steps.forEach(([id, state], index) => {
    must(history.commitMinute(minute(index + 1, { messages: [], alarmEvents: [event(id, index + 1, state)] })));
  });
  history.close();
  const again = open({ folder });
  expect(must(again.openAlarms()).map(({ id, state, sequence }) => [id, state, sequence])).toEqual([
    ['high_lift', 'unacknowledged', 1],
    ['low_flow', 'acknowledged', 5],
  ]);
  const span = { from: 0, to: Number.MAX_SAFE_INTEGER, count: 10 };
  const journal = must(again.alarmJournal({ chiller: 'CH-1', ...span }));
  expect(journal.map(({ sequence }) => sequence)).toEqual([5, 4, 3]);
  expect(journal[0]?.detail).toBe(JSON.stringify({ id: 'low_flow', state: 'acknowledged' }));
  expect(must(again.alarmJournal({ chiller: null, ...span }))).toHaveLength(3);
  expect(must(again.alarmJournal({ chiller: 'CH-2', ...span }))).toEqual([]);
});
