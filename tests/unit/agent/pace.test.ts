// Goal: intervals end on the grid of the wall clock, once each, whatever the clock and the process do. The clock is a
// fake: time passes only where the test says so.
import { describe, expect, test } from 'vitest';
import { EARLIEST, type Interval, Pace } from '../../../agent/pace.ts';

const MINUTE = 60_000;
const T0 = Math.ceil(EARLIEST / MINUTE) * MINUTE + 60 * MINUTE;

function world(start: number, options: { last?: number | null; first_interval_s?: number } = {}) {
  let now = start;
  let elapsed = 0;
  let waiting: { at: number; run: () => void } | null = null;
  const intervals: Interval[] = [];
  const held: (string | null)[] = [];
  const pace = new Pace({
    clock: { now: () => now, monotonic: () => elapsed },
    timers: {
      after(ms, run) {
        const mine = { at: elapsed + ms, run };
        waiting = mine;
        return () => {
          if (waiting === mine) waiting = null;
        };
      },
    },
    interval_s: 60,
    first_interval_s: options.first_interval_s ?? 60,
    last: options.last ?? null,
    onInterval: (interval) => intervals.push(interval),
    onHeld: (reason) => held.push(reason),
  });
  return {
    pace,
    intervals,
    held,
    /** Lets time pass, firing what is due in order. */
    pass(ms: number) {
      const end = elapsed + ms;
      while (waiting !== null && (waiting as { at: number }).at <= end) {
        const { at, run } = waiting as { at: number; run: () => void };
        const late = Math.max(at, elapsed);
        now += late - elapsed;
        elapsed = late;
        waiting = null;
        run();
      }
      now += end - elapsed;
      elapsed = end;
    },
    /** Steps the wall clock, as a time server does. */
    step(ms: number) {
      now += ms;
    },
    /** The process is held up: time passes and nothing fires. */
    hang(ms: number) {
      now += ms;
      elapsed += ms;
    },
    idle: () => waiting === null,
  };
}

describe('pace', () => {
  test('intervals end on full minutes; the first covers only what was watched', () => {
    const w = world(T0 + 20_000);
    w.pace.start();
    w.pass(160_000);
    expect(w.intervals).toEqual([
      { from: T0 + 20_000, to: T0 + MINUTE, missed: 0 },
      { from: T0 + MINUTE, to: T0 + 2 * MINUTE, missed: 0 },
      { from: T0 + 2 * MINUTE, to: T0 + 3 * MINUTE, missed: 0 },
    ]);
  });

  test('the first interval may be shorter, and the next goes on from its end to the grid', () => {
    const w = world(T0 + 1000, { first_interval_s: 10 });
    w.pace.start();
    w.pass(130_000);
    expect(w.intervals.map(({ from, to }) => [from - T0, to - T0])).toEqual([
      [1000, 10_000],
      [10_000, MINUTE],
      [MINUTE, 2 * MINUTE],
    ]);
  });

  test('a process held up for minutes gives one interval and counts those it missed', () => {
    const w = world(T0);
    w.pace.start();
    w.pass(MINUTE);
    w.hang(5 * MINUTE + 1000);
    w.pass(1);
    expect(w.intervals.at(-1)).toEqual({ from: T0 + 5 * MINUTE, to: T0 + 6 * MINUTE, missed: 4 });
  });

  test('a clock stepped back holds, says so once, and goes on when the last minute has passed again', () => {
    const w = world(T0);
    w.pace.start();
    w.pass(2 * MINUTE);
    w.step(-10 * MINUTE);
    w.pass(9 * MINUTE);
    expect(w.intervals).toHaveLength(2);
    expect(w.held).toHaveLength(1);
    expect(w.held[0]).toMatch(/before the last minute/);
    expect(w.pace.held()).not.toBeNull();
    w.pass(2 * MINUTE);
    expect(w.held.at(-1)).toBeNull();
    expect(w.intervals).toHaveLength(3);
    expect(w.intervals.at(-1)).toMatchObject({ to: T0 + 3 * MINUTE, missed: 0 });
  });

  test('a clock stepped forward is a gap, not a flood', () => {
    const w = world(T0);
    w.pace.start();
    w.pass(MINUTE);
    w.step(60 * MINUTE);
    w.pass(10_000);
    expect(w.intervals).toHaveLength(2);
    expect(w.intervals[1]).toMatchObject({ to: T0 + 61 * MINUTE, missed: 59 });
  });

  test('a clock before this program was written holds until it is set', () => {
    const w = world(1000);
    w.pace.start();
    w.pass(5 * MINUTE);
    expect(w.intervals).toEqual([]);
    expect(w.held[0]).toMatch(/before this program was written/);
    w.step(T0);
    w.pass(2 * MINUTE);
    expect(w.intervals.length).toBeGreaterThan(0);
    expect(w.intervals[0]?.from).toBeGreaterThan(EARLIEST);
  });

  test('a clock that ran ahead at the start and is set back before the first interval ended costs no minute', () => {
    for (const last of [null, T0 - MINUTE]) {
      const w = world(T0 + 1000 * MINUTE, { last });
      w.pace.start();
      w.step(-1000 * MINUTE);
      w.pass(3 * MINUTE);
      expect(w.held).toEqual([]);
      expect(w.intervals.map(({ to }) => to - T0)).toEqual([MINUTE, 2 * MINUTE, 3 * MINUTE]);
      expect(w.intervals.every(({ from, to }) => from < to)).toBe(true);
    }
  });

  test('after a restart nothing before the last stored minute is computed again', () => {
    const w = world(T0 + 10_000, { last: T0 + MINUTE });
    w.pace.start();
    w.pass(2 * MINUTE);
    expect(w.intervals.map(({ to }) => to - T0)).toEqual([2 * MINUTE]);
  });

  test('after a restart hours later the time away is a gap, not missed work', () => {
    const w = world(T0 + 300 * MINUTE + 10_000, { last: T0 });
    w.pace.start();
    w.pass(MINUTE);
    expect(w.intervals).toEqual([{ from: T0 + 300 * MINUTE + 10_000, to: T0 + 301 * MINUTE, missed: 0 }]);
  });

  test('stopped, it lets nothing fire', () => {
    const w = world(T0);
    w.pace.start();
    w.pace.stop();
    expect(w.idle()).toBe(true);
  });
});
