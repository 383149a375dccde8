/** Goal: a minute is stored whole, comes back after a restart, and a number is never stored twice. */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { minute, open, temporaryFolder } from './helpers.ts';

test('state, record and messages come back after the store was closed and opened again', () => {
  const folder = temporaryFolder();
  const first = open({ folder });
  expect(must(first.loadState('CH-1'))).toBeNull();
  expect(must(first.latestRecord('CH-1'))).toBeNull();
  for (const sequence of [1, 2, 3])
    expect(must(first.commitMinute(minute(sequence)))).toEqual({ committed: 1, pending: 0 });
  must(first.commitMinute(minute(7, { chiller: 'CH-2' })));
  first.close();

  const second = open({ folder });
  expect(must(second.loadState('CH-1'))).toEqual({ state: '{"count":3}', sequence: 3, time: minute(3).time });
  expect(must(second.loadState('CH-2'))?.sequence).toBe(7);
  expect(must(second.latestRecord('CH-1'))).toEqual({ sequence: 3, time: minute(3).time, record: minute(3).record });
  expect(second.outbox.oldest('mqtt', 10).map(({ chiller, sequence }) => [chiller, sequence])).toEqual([
    ['CH-1', 1],
    ['CH-1', 2],
    ['CH-1', 3],
    ['CH-2', 7],
  ]);
  expect(second.outbox.counts('mqtt').waiting).toBe(4);
});

test('a number that is stored already is refused, leaves nothing behind and does not hold up the next', () => {
  const history = open();
  must(history.commitMinute(minute(5)));
  for (const sequence of [5, 4]) {
    const again = history.commitMinute(minute(sequence, { record: '{"values":{"unit.power":-1}}' }));
    expect(again.ok ? null : again.fault.code).toBe('history_sequence');
  }
  expect(must(history.commitMinute(minute(6)))).toEqual({ committed: 1, pending: 0 });
  expect(history.outbox.oldest('mqtt', 10).map(({ sequence }) => sequence)).toEqual([5, 6]);
  expect(must(history.latestRecord('CH-1'))?.sequence).toBe(6);
});

test('an error of the program inside the transaction is thrown, and nothing of the minute stays', () => {
  let planted = true;
  const history = open({
    checkpoint: (name) => {
      if (name === 'inside_transaction' && planted) throw new Error('planted');
    },
  });
  expect(() => history.commitMinute(minute(1))).toThrow('planted');
  expect(must(history.loadState('CH-1'))).toBeNull();
  expect(must(history.latestRecord('CH-1'))).toBeNull();
  expect(history.outbox.oldest('mqtt', 10)).toEqual([]);
  expect(history.outbox.counts('mqtt')).toMatchObject({ waiting: 0, bytes: 0 });
  planted = false;
});
