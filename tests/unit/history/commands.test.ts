// Goal: a command to an alarm is on the disk when it is taken, belongs to the minute that took it in, and is neither
// lost nor applied twice whatever ends the process or fills the disk.
import { expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { must } from '../../../agent/base/result.ts';
import { appendCommand } from '../../../agent/history/commands.ts';
import type { History } from '../../../agent/history/history.ts';
import { lockFolder } from '../../../agent/history/lock.ts';
import type { Transaction } from '../../../agent/history/types.ts';
import { minute, open, temporaryFolder } from './helpers.ts';

const ACKNOWLEDGE = { chiller: 'CH-1', received: 1_000_000, verb: 'acknowledge', payload: '{"alarm":"low-flow"}' };

function waiting(history: History, chiller = 'CH-1'): string[] {
  return must(history.commands.waiting(chiller)).map(({ verb, payload }) => `${verb} ${payload}`);
}

const idsOf = (history: History): number[] => must(history.commands.waiting('CH-1')).map(({ id }) => id);

test('waits through a restart until a minute says that it took it in', () => {
  const folder = temporaryFolder();
  const first = open({ folder });
  must(first.commands.add(ACKNOWLEDGE, { repeated: false }));
  // As after kill -9: nothing is closed.
  const second = open({ folder });
  expect(waiting(second)).toEqual(['acknowledge {"alarm":"low-flow"}']);
  expect(waiting(second, 'CH-2')).toEqual([]);
  must(second.commitMinute(minute(1, { commands: idsOf(second) })));
  expect(waiting(second)).toEqual([]);
  const third = open({ folder });
  expect(waiting(third)).toEqual([]);
});

test('a minute that did not come to be leaves it waiting', () => {
  const folder = temporaryFolder();
  let die = false;
  const checkpoint = (name: string): void => {
    if (die && name === 'inside_transaction') throw new Error('power cut');
  };
  const history = open({ folder, checkpoint });
  must(history.commands.add(ACKNOWLEDGE, { repeated: false }));
  die = true;
  expect(() => history.commitMinute(minute(1, { commands: idsOf(history) }))).toThrow('power cut');
  die = false;
  const after = open({ folder });
  expect(waiting(after)).toHaveLength(1);
});

test('sent again by a broker that got no answer, it is known; commanded again by a person, it is a further one', () => {
  const history = open();
  expect(must(history.commands.add(ACKNOWLEDGE, { repeated: false }))).toBe('stored');
  expect(must(history.commands.add(ACKNOWLEDGE, { repeated: true }))).toBe('known');
  must(history.commitMinute(minute(1, { commands: idsOf(history) })));
  expect(must(history.commands.add(ACKNOWLEDGE, { repeated: true }))).toBe('known');
  expect(must(history.commands.add(ACKNOWLEDGE, { repeated: false }))).toBe('stored');
  const hours = { ...ACKNOWLEDGE, received: ACKNOWLEDGE.received + 2 * LIMITS.command_session_s * 1000 };
  expect(must(history.commands.add(hours, { repeated: true }))).toBe('stored');
});

/** A disk that is full while asked to be. */
function disk(): { full: boolean; readonly transaction: Transaction } {
  const state = {
    full: false,
    transaction: ((database, work) => {
      if (state.full) throw Object.assign(new Error('database or disk is full'), { errcode: 13 });
      database.exec('BEGIN');
      work();
      database.exec('COMMIT');
    }) as Transaction,
  };
  return state;
}

test('while the disk takes no minutes a command is taken in once, by the minute in memory', () => {
  const small = disk();
  const history = open({ transaction: small.transaction });
  must(history.commands.add(ACKNOWLEDGE, { repeated: false }));
  small.full = true;
  expect(history.commitMinute(minute(1, { commands: idsOf(history) })).ok).toBe(false);
  expect(waiting(history)).toEqual([]);
  small.full = false;
  must(history.commitMinute(minute(2)));
  expect(waiting(history)).toEqual([]);
});

test('a minute given up in memory took its command in all the same', () => {
  const small = disk();
  const history = open({ transaction: small.transaction, limits: { history_pending_max: 1 } });
  must(history.commands.add(ACKNOWLEDGE, { repeated: false }));
  small.full = true;
  history.commitMinute(minute(1, { commands: idsOf(history) }));
  history.commitMinute(minute(2));
  expect(history.counters().minutes_dropped).toBe(1);
  expect(waiting(history)).toEqual([]);
  small.full = false;
  must(history.commitMinute(minute(3)));
  expect(waiting(history)).toEqual([]);
});

test('a flood is refused at the bound with a reason, and what was taken stays', () => {
  const history = open();
  for (let i = 0; i < LIMITS.commands_waiting_max; i++)
    must(history.commands.add({ ...ACKNOWLEDGE, payload: String(i) }, { repeated: false }));
  const refused = history.commands.add(ACKNOWLEDGE, { repeated: false });
  expect(refused).toMatchObject({ ok: false, fault: { code: 'alarm_command' } });
  expect(waiting(history)).toHaveLength(LIMITS.commands_waiting_max);
});

test('the command line writes beside a running agent and without one', () => {
  const folder = temporaryFolder();
  must(appendCommand(folder, ACKNOWLEDGE));
  const lock = must(lockFolder(folder));
  const history = open({ folder });
  must(appendCommand(folder, { ...ACKNOWLEDGE, verb: 'unshelve' }));
  expect(waiting(history).map((text) => text.split(' ')[0])).toEqual(['acknowledge', 'unshelve']);
  lock.release();
});
