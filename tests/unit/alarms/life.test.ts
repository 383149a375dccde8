// Goal: an alarm rises only after its on-delay of crossed intervals, clears only after its off-delay of good ones,
// and nothing else moves it. States and deadband / delay meaning: ANSI/ISA-18.2 and OPC UA Part 9 (deadband clears at
// limit minus deadband), from memory.
import { describe, expect, test } from 'vitest';
import { commanded } from '../../../agent/alarms/commands.ts';
import {
  type AlarmInput,
  type AlarmState,
  administered,
  firstState,
  nextState,
  verdictOf,
} from '../../../agent/alarms/life.ts';

const DELAYS = { on_delay_s: 180, off_delay_s: 120, latching: false, out_of_service: null };

/** `stopped`: no figure, and the machine's state says why. */
function run(
  found: readonly (AlarmInput['verdict'] | 'stopped')[],
  interval_s = 60,
): { state: AlarmState; changes: (string | null)[] } {
  let state = firstState(0);
  const changes = found.map((each, i) => {
    const verdict = each === 'stopped' ? 'unknown' : each;
    const explained = each === 'stopped' ? 'the machine does not run' : null;
    const next = nextState(state, { time: (i + 1) * 60_000, interval_s, verdict, explained, value: i }, DELAYS);
    state = next.state;
    return next.change;
  });
  return { state, changes };
}

describe('life of an alarm', () => {
  test('rises at the interval that completes the on-delay, not before', () => {
    const { state, changes } = run(['crossed', 'crossed', 'crossed']);
    expect(changes).toEqual([null, null, 'raised']);
    expect(state).toMatchObject({ state: 'unacknowledged', since: 180_000, counted_s: 0 });
  });

  test('one good interval starts the on-delay anew', () => {
    expect(run(['crossed', 'crossed', 'good', 'crossed', 'crossed']).changes).toEqual([null, null, null, null, null]);
  });

  test('inside the deadband a raised alarm stays raised, and counting to clear starts anew', () => {
    const verdicts = ['crossed', 'crossed', 'crossed', 'good', 'between', 'good', 'good'] as const;
    expect(run(verdicts).changes).toEqual([null, null, 'raised', null, null, null, 'cleared']);
  });

  test('inside the deadband a quiet alarm stays quiet', () => {
    expect(run(['between', 'between', 'between', 'between']).state.state).toBe('normal');
  });

  test('missing data holds the count: it neither raises nor clears', () => {
    expect(run(['crossed', 'crossed', 'unknown', 'unknown', 'unknown']).changes).not.toContain('raised');
    expect(run(['crossed', 'crossed', 'unknown', 'crossed']).changes).toEqual([null, null, null, 'raised']);
    expect(run(['crossed', 'crossed', 'crossed', 'unknown', 'unknown', 'unknown']).state.state).toBe('unacknowledged');
  });

  test('a machine that stopped clears a raised alarm after the off-delay and raises none', () => {
    expect(run(['crossed', 'crossed', 'crossed', 'stopped', 'stopped']).changes.at(-1)).toBe('cleared');
    expect(run(['crossed', 'crossed', 'stopped', 'crossed', 'crossed']).changes).not.toContain('raised');
  });

  test('delays count evaluated intervals, whatever the clock says', () => {
    const early = nextState(
      { ...firstState(0), counting: 'raise', counted_s: 120 },
      { time: -1, interval_s: 60, verdict: 'crossed', explained: null, value: 1 },
      DELAYS,
    );
    expect(early.change).toBe('raised');
  });
});

describe('a shelf', () => {
  const shelf = { by: 'A. Turner', time: 0, reason: 'pump down', until: 600_000, lasted_s: 0 };
  const shelved: AlarmState = { ...firstState(0), state: 'shelved, active', shelf };

  /** End of the interval at which it is over, by the times of the intervals; null: not yet. */
  function ends(times: readonly number[]): number | null {
    let state = shelved;
    for (const time of times)
      for (const step of administered(state, DELAYS, time, 60)) {
        if (step.change === 'unshelved') return time;
        state = step.state;
      }
    return null;
  }
  const minutes = (from: number, count: number) => Array.from({ length: count }, (_, i) => from + i * 60_000);

  test('ends by the clock, at its time and not before', () => {
    expect(ends(minutes(60_000, 9))).toBeNull();
    expect(ends(minutes(60_000, 10))).toBe(600_000);
    expect(ends([60_000, 3_600_000])).toBe(3_600_000);
  });

  test('is not lengthened by a clock that was set back: counted intervals end it', () => {
    expect(ends(minutes(-3_600_000, 9))).toBeNull();
    expect(ends(minutes(-3_600_000, 10))).toBe(-3_600_000 + 9 * 60_000);
  });

  test.each([
    ['over already', 0, /is over already/],
    ['beyond the bound', 7 * 86_400_000 + 1, /too far: at most 7 days/],
  ])('%s is refused', (_, until, message) => {
    const command = { verb: 'shelve', chiller: 'CH-1', alarm: 'x', by: 'y', reason: 'z', until, raised: null } as const;
    const done = commanded(firstState(0), command, { id: 'x', protected: false }, 0);
    expect(done.ok ? '' : done.fault.message).toMatch(message);
  });

  test('of the longest length allowed is taken', () => {
    const until = 7 * 86_400_000;
    const command = { verb: 'shelve', chiller: 'CH-1', alarm: 'x', by: 'y', reason: 'z', until, raised: null } as const;
    expect(commanded(firstState(0), command, { id: 'x', protected: false }, 0)).toMatchObject({
      ok: true,
      value: { state: { state: 'shelved', shelf: { until } } },
    });
  });
});

describe('an acknowledgement', () => {
  const raised: AlarmState = { ...firstState(0), state: 'unacknowledged', raised: 120_000 };
  const acknowledge = (of: number | null) =>
    commanded(
      raised,
      { verb: 'acknowledge', chiller: 'CH-1', alarm: 'x', by: 'y', reason: null, until: null, raised: of },
      { id: 'x', protected: false },
      180_000,
    );

  test('of an earlier occurrence leaves the present one alone, and says so', () => {
    const done = acknowledge(60_000);
    expect(done.ok ? '' : done.fault.message).toBe('acknowledge: x was raised again at 1970-01-01T00:02:00Z');
  });

  test('of this occurrence, and of whatever stands, is taken', () => {
    for (const of of [120_000, null])
      expect(acknowledge(of)).toMatchObject({ ok: true, value: { change: 'acknowledged' } });
  });
});

describe('where a figure stands', () => {
  test.each([
    ['above', 3.01, 'crossed'],
    ['above', 3, 'between'],
    ['above', 2.6, 'between'],
    ['above', 2.5, 'good'],
    ['below', 2.99, 'crossed'],
    ['below', 3.4, 'between'],
    ['below', 3.5, 'good'],
  ] as const)('limit 3 %s, deadband 0.5: %d is %s', (side, value, expected) => {
    expect(verdictOf({ side, limit: 3, deadband: 0.5 }, value)).toBe(expected);
  });
});
