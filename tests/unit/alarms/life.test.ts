// Goal: an alarm rises only after its on-delay of crossed intervals, clears only after its off-delay of good ones,
// and nothing else moves it. States and deadband / delay meaning: ANSI/ISA-18.2 and OPC UA Part 9 (deadband clears at
// limit minus deadband), from memory.
import { describe, expect, test } from 'vitest';
import { type AlarmInput, type AlarmState, firstState, nextState, verdictOf } from '../../../agent/alarms/life.ts';

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
