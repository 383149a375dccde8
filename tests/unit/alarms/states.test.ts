// Goal: every way of an alarm from state to state, each by what really happens to it (figures of an interval, a
// command, the time, the site file), and no way that is not listed here. Life cycle: ANSI/ISA-18.2-2016 and IEC
// 62682:2014, the state-transition diagram of alarm states, from memory. Latching with an acknowledgement after the
// condition ended: common practice, no source.
import { describe, expect, test } from 'vitest';
import { type AlarmCommand, commanded } from '../../../agent/alarms/commands.ts';
import { type AlarmState, administered, firstState, nextState, signalled } from '../../../agent/alarms/life.ts';
import {
  type AlarmNode,
  isActive,
  isShelved,
  SIGNALS,
  type Signal,
  TRANSITIONS,
} from '../../../agent/alarms/states.ts';

/** From, by, to. */
const WAYS: readonly (readonly [AlarmNode, Signal, AlarmNode])[] = [
  ['normal', 'raise', 'unacknowledged'],
  ['normal', 'suppress', 'suppressed by design'],
  ['normal', 'shelve', 'shelved'],
  ['normal', 'remove', 'out of service'],

  ['unacknowledged', 'acknowledge', 'acknowledged'],
  ['unacknowledged', 'clear', 'returned to normal'],
  ['unacknowledged', 'suppress', 'returned to normal'],
  ['unacknowledged', 'latch', 'latched'],
  ['unacknowledged', 'shelve', 'shelved, active'],
  ['unacknowledged', 'remove', 'out of service'],

  ['acknowledged', 'clear', 'normal'],
  ['acknowledged', 'suppress', 'suppressed by design'],
  ['acknowledged', 'latch', 'latched'],
  ['acknowledged', 'shelve', 'shelved, active'],
  ['acknowledged', 'remove', 'out of service'],

  ['returned to normal', 'raise', 'unacknowledged'],
  ['returned to normal', 'acknowledge', 'normal'],
  ['returned to normal', 'shelve', 'shelved'],
  ['returned to normal', 'remove', 'out of service'],

  ['latched', 'raise', 'unacknowledged'],
  ['latched', 'acknowledge', 'normal'],
  ['latched', 'shelve', 'shelved, latched'],
  ['latched', 'remove', 'out of service'],

  ['shelved', 'raise', 'shelved, active'],
  ['shelved', 'shelve', 'shelved'],
  ['shelved', 'unshelve', 'normal'],
  ['shelved', 'expire', 'normal'],
  ['shelved', 'remove', 'out of service'],

  ['shelved, active', 'clear', 'shelved'],
  ['shelved, active', 'suppress', 'shelved'],
  ['shelved, active', 'latch', 'shelved, latched'],
  ['shelved, active', 'shelve', 'shelved, active'],
  ['shelved, active', 'unshelve', 'unacknowledged'],
  ['shelved, active', 'expire', 'unacknowledged'],
  ['shelved, active', 'remove', 'out of service'],

  ['shelved, latched', 'raise', 'shelved, active'],
  ['shelved, latched', 'shelve', 'shelved, latched'],
  ['shelved, latched', 'unshelve', 'latched'],
  ['shelved, latched', 'expire', 'latched'],
  ['shelved, latched', 'remove', 'out of service'],

  ['suppressed by design', 'raise', 'unacknowledged'],
  ['suppressed by design', 'clear', 'normal'],
  ['suppressed by design', 'shelve', 'shelved'],
  ['suppressed by design', 'remove', 'out of service'],

  ['out of service', 'restore', 'normal'],
];

const TIME = 3_600_000;
const TRAITS = { on_delay_s: 0, off_delay_s: 0, latching: false, out_of_service: null };

/** An alarm in a state, as it would be found there. */
function standing(node: AlarmNode): AlarmState {
  const shelf = {
    by: 'A. Turner',
    time: TIME - 600_000,
    reason: 'tower pump down',
    until: TIME + 600_000,
    lasted_s: 60,
  };
  const raised = isActive(node) || node === 'latched' || node === 'returned to normal' ? TIME - 1_200_000 : null;
  return {
    ...firstState(TIME - 900_000),
    state: node,
    raised,
    cleared: raised !== null && !isActive(node) ? TIME - 900_000 : null,
    shelf: isShelved(node) ? shelf : null,
    acknowledged: node === 'acknowledged' ? { by: 'A. Turner', time: TIME - 900_000, reason: null } : null,
    explained: node === 'suppressed by design' ? 'the machine does not run' : null,
  };
}

function command(verb: AlarmCommand['verb'], reason: string | null = null): AlarmCommand {
  return { verb, chiller: 'CH-1', alarm: 'low-flow', by: 'B. Quay', reason, until: null, raised: null };
}

/** What really happens for a signal to be given; answers the state after it. */
function happen(before: AlarmState, signal: Signal): AlarmState {
  const found = (verdict: 'crossed' | 'good', explained: string | null = null, latching = false): AlarmState =>
    nextState(before, { time: TIME, interval_s: 60, verdict, explained, value: 1 }, { ...TRAITS, latching }).state;
  const said = (one: AlarmCommand): AlarmState => {
    const done = commanded(before, one, { id: 'low-flow', protected: false }, TIME);
    if (!done.ok) throw new Error(done.fault.message);
    return done.value.state;
  };
  const ruled = (time: number, out_of_service: string | null): AlarmState =>
    administered(before, { ...TRAITS, out_of_service }, time, 60).at(-1)?.state ?? before;
  switch (signal) {
    case 'raise':
      return found('crossed');
    case 'clear':
      return found('good');
    case 'latch':
      return found('good', null, true);
    case 'suppress':
      return found('crossed', 'the machine does not run');
    case 'acknowledge':
    case 'unshelve':
      return said(command(signal));
    case 'shelve':
      return said(command('shelve', 'sensor being replaced'));
    case 'expire':
      return ruled(TIME + 600_000, null);
    case 'remove':
      return ruled(TIME, 'flow switch dismantled');
    case 'restore':
      return ruled(TIME, null);
  }
}

describe('by what really happens', () => {
  test.each(WAYS)('%s, %s: %s', (from, signal, to) => {
    expect(happen(standing(from), signal).state).toBe(to);
  });
});

test('the table has these ways and no other', () => {
  const table = Object.entries(TRANSITIONS).flatMap(([from, ways]) =>
    Object.entries(ways).map(([signal, to]) => `${from}, ${signal}: ${to}`),
  );
  expect(table.sort()).toEqual(WAYS.map(([from, signal, to]) => `${from}, ${signal}: ${to}`).sort());
});

describe('what has no way changes nothing', () => {
  const ways = new Set(WAYS.map(([from, signal]) => `${from}, ${signal}`));
  const none = (Object.keys(TRANSITIONS) as AlarmNode[]).flatMap((from) =>
    SIGNALS.filter((signal) => !ways.has(`${from}, ${signal}`)).map((signal) => [from, signal] as const),
  );
  test.each(none)('%s, %s', (from, signal) => {
    const before = standing(from);
    const deed = { by: 'B. Quay', time: TIME, reason: null };
    const shelf = { ...deed, until: TIME + 1, lasted_s: 0 };
    expect(signalled(before, signal, { time: TIME, deed, shelf })).toEqual({ state: before, change: null });
  });
});

describe('what an alarm remembers', () => {
  test('who acknowledged it and when, until it is normal again', () => {
    const known = happen(standing('unacknowledged'), 'acknowledge');
    expect(known.acknowledged).toEqual({ by: 'B. Quay', time: TIME, reason: null });
    expect(happen(known, 'clear').acknowledged).toBeNull();
  });

  test('when its condition began and ended', () => {
    const raised = happen(firstState(0), 'raise');
    expect([raised.raised, raised.cleared, raised.since]).toEqual([TIME, null, TIME]);
    const over = happen({ ...raised, raised: 60_000 }, 'clear');
    expect([over.raised, over.cleared]).toEqual([60_000, TIME]);
  });

  test('who shelved it, why and until when; without an end given for eight hours', () => {
    const shelved = happen(standing('unacknowledged'), 'shelve');
    expect(shelved.shelf).toEqual({
      by: 'B. Quay',
      time: TIME,
      reason: 'sensor being replaced',
      until: TIME + 8 * 3_600_000,
      lasted_s: 0,
    });
    expect(happen(shelved, 'unshelve').shelf).toBeNull();
  });

  test('an acknowledgement from before a shelf does not count after it', () => {
    const shelved = happen(standing('acknowledged'), 'shelve');
    expect(happen(shelved, 'unshelve')).toMatchObject({ state: 'unacknowledged', acknowledged: null });
  });
});
