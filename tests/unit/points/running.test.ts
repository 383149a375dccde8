/**
 * Goal: the state of the machine is what a person at the panel would call it, and `steady` is said neither too early
 * nor of a drifting machine. Method: days of a machine told interval by interval. Times and limits are the rule's
 * defaults (common practice, no source).
 */
import { describe, expect, test } from 'vitest';
import {
  isRunning,
  nextRunning,
  RUNNING_START,
  type RunningState,
  runningFor,
  runningRule,
} from '../../../agent/points/running.ts';
import { snapshotOf, T0 } from './samples-of.ts';

const RULE = runningRule.parse({});
const C = 273.15;

interface Minute {
  readonly running?: number | null;
  readonly water?: number | null;
  readonly evaporator?: number | null;
  readonly condenser?: number | null;
  readonly power?: number | null;
}

const HOLDING: Required<Minute> = { running: 1, water: C + 6.7, evaporator: 350e3, condenser: 940e3, power: 800e3 };
const STOPPED: Minute = { running: 0, water: C + 12, evaporator: 560e3, condenser: 600e3, power: 0 };

function snapshot(minute: Minute, time: number) {
  const { running = null, water = null, evaporator = null, condenser = null, power = null } = minute;
  return snapshotOf(time, {
    'unit.running': running,
    'chilled_water.leaving_temperature': water,
    'evaporator.pressure': evaporator,
    'condenser.pressure': condenser,
    'unit.power': power,
  });
}

/** Folds `count` minutes, the n-th as `minute(n)` says, on from a state. */
function fold(from: RunningState, count: number, minute: (n: number) => Minute, interval_s = 60): RunningState {
  let state = from;
  const start = state.time ?? T0;
  for (let n = 1; n <= count; n += 1) {
    const time = start + n * interval_s * 1000;
    state = nextRunning(state, { snapshot: snapshot(minute(n), time), rule: RULE, interval_s });
  }
  return state;
}

const states = (from: RunningState, count: number, minute: (n: number) => Minute): string[] => {
  const seen: string[] = [];
  let state = from;
  for (let n = 1; n <= count; n += 1) {
    state = fold(state, 1, () => minute(n));
    if (state.state !== seen.at(-1)) seen.push(state.state);
  }
  return seen;
};

const stopped = fold(RUNNING_START, 60, () => STOPPED);

describe('a day', () => {
  test('standstill, start, pull-down, steady, stop, standstill', () => {
    // Leaving water falls from 12 to 6.7 degC over 20 minutes, then holds.
    const day = (n: number): Minute =>
      n <= 60 ? { ...HOLDING, water: Math.max(C + 6.7, C + 12 - 0.265 * n) } : STOPPED;
    expect(states(stopped, 120, day)).toEqual([
      'starting',
      'pull-down',
      'load change',
      'steady',
      'stopping',
      'off',
      'standstill',
    ]);
  });

  test('a pull-down lasts as long as the water falls', () => {
    const falling = (n: number): Minute => ({ ...HOLDING, water: C + 25 - 0.2 * n });
    expect(states(stopped, 60, falling)).toEqual(['starting', 'pull-down']);
    const rising = (n: number): Minute => ({ ...HOLDING, water: C + 5 + 0.2 * n });
    expect(states(stopped, 60, rising).at(-1)).toBe('load change');
  });

  test('counts starts and running time', () => {
    const ran = fold(stopped, 30, () => HOLDING);
    expect(ran).toMatchObject({ starts: 1, running: true, started: stopped.time === null ? 0 : stopped.time + 60_000 });
    expect(ran.run_seconds).toBe(29 * 60);
    expect(runningFor(ran)).toBe(29 * 60);
    expect(runningFor(fold(ran, 1, () => STOPPED))).toBe(0);
  });
});

describe('steady', () => {
  const running = fold(stopped, 40, () => HOLDING);

  test('holds while nothing drifts, with noise on every sensor', () => {
    expect(running.steady).toBe(true);
    const noisy = (n: number): Minute => ({
      ...HOLDING,
      water: HOLDING.water! + 0.05 * Math.sin(n * 2.1),
      evaporator: HOLDING.evaporator! * (1 + 0.002 * Math.sin(n * 1.7)),
      power: HOLDING.power! * (1 + 0.01 * Math.cos(n * 2.9)),
    });
    expect(states(running, 60, noisy)).toEqual(['steady']);
  });

  test('not before the rule allows it, however still the machine is', () => {
    const early = fold(stopped, 14, () => HOLDING);
    expect(early.steady).toBe(false);
    expect(fold(early, 3, () => HOLDING).steady).toBe(true);
  });

  test.each([
    ['leaving water', (n: number) => ({ ...HOLDING, water: HOLDING.water! + 0.05 * n })],
    ['evaporator pressure', (n: number) => ({ ...HOLDING, evaporator: HOLDING.evaporator! * (1 - 0.004 * n) })],
    ['condenser pressure', (n: number) => ({ ...HOLDING, condenser: HOLDING.condenser! * (1 + 0.004 * n) })],
    ['power', (n: number) => ({ ...HOLDING, power: HOLDING.power! * (1 + 0.01 * n) })],
  ])('a drift of %s ends it', (_, minute) => {
    expect(fold(running, 12, minute)).toMatchObject({ steady: false, state: 'load change' });
  });

  test('needs a temperature or a pressure: power alone is no proof', () => {
    const blind = fold(RUNNING_START, 60, () => ({ running: 1, power: 800e3 }));
    expect(blind).toMatchObject({ steady: false, state: 'running' });
  });

  test('an agent that finds the machine running claims no start, and waits for its window', () => {
    const found = fold(RUNNING_START, 5, () => HOLDING);
    expect(found).toMatchObject({ starts: 0, started: null, steady: false, state: 'running' });
    expect(fold(found, 7, () => HOLDING).steady).toBe(true);
  });

  test.each([1, 10, 300, 900])('with intervals of %i s', (interval_s) => {
    const found = fold(RUNNING_START, Math.ceil(7200 / interval_s), () => HOLDING, interval_s);
    expect(found.steady).toBe(true);
    expect(found.window.length).toBeLessThanOrEqual(26);
  });
});

describe('what is not known', () => {
  const running = fold(stopped, 40, () => HOLDING);

  test('without evidence the state is unknown, never off', () => {
    expect(fold(running, 1, () => ({})).state).toBe('unknown');
    expect(fold(RUNNING_START, 1, () => ({}))).toMatchObject({ state: 'unknown', running: null });
  });

  test('a lost minute is no stop and no start', () => {
    const after = fold(
      fold(running, 3, () => ({})),
      1,
      () => HOLDING,
    );
    expect(after).toMatchObject({ starts: running.starts, started: running.started });
  });

  test('a stop behind a lost minute is still counted as a start afterwards', () => {
    const again = fold(
      fold(
        fold(running, 1, () => STOPPED),
        1,
        () => ({}),
      ),
      1,
      () => HOLDING,
    );
    expect(again.starts).toBe(running.starts + 1);
  });

  test('a snapshot that is not later leaves everything as it is', () => {
    const state = nextRunning(running, {
      snapshot: snapshot(STOPPED, running.time as number),
      rule: RULE,
      interval_s: 60,
    });
    expect(state).toBe(running);
  });

  test('an hour without the agent is not running time and breaks the window', () => {
    const after = nextRunning(running, {
      snapshot: snapshot(HOLDING, (running.time as number) + 3_600_000),
      rule: RULE,
      interval_s: 60,
    });
    expect(after.run_seconds).toBe(running.run_seconds);
    expect(after.steady).toBe(false);
  });
});

test('a restart within five minutes goes on where it was, though its first interval is short', () => {
  const running = fold(stopped, 40, () => HOLDING);
  const time = (running.time as number) + 90_000;
  const after = nextRunning(running, { snapshot: snapshot(HOLDING, time), rule: RULE, interval_s: 10 });
  expect(after).toMatchObject({ state: 'steady', run_seconds: running.run_seconds + 90 });
});

test('three starts in two hours are low-load cycling', () => {
  let state = stopped;
  for (let start = 0; start < 3; start += 1) {
    state = fold(state, 12, () => HOLDING);
    if (start < 2) state = fold(state, 10, () => STOPPED);
  }
  expect(state).toMatchObject({ state: 'low-load cycling', steady: false, starts: 3 });
  expect(fold(state, 120, () => HOLDING).state).toBe('steady');
});

test('the state survives JSON, as the store keeps it', () => {
  const state = fold(stopped, 20, () => HOLDING);
  const stored = JSON.parse(JSON.stringify(state)) as RunningState;
  expect(fold(stored, 20, () => HOLDING)).toEqual(fold(state, 20, () => HOLDING));
});

test('evidence in order: a state, then power, then current', () => {
  const at = (values: Record<string, number | null>) => isRunning(snapshotOf(T0, values), RULE);
  expect(at({ 'unit.running': 0, 'unit.power': 500e3 })).toBe(false);
  expect(at({ 'main_compressor.running': 1 })).toBe(true);
  expect(at({ 'unit.running': null, 'unit.power': 500e3 })).toBe(true);
  expect(at({ 'main_compressor.power': 5e3 })).toBe(false);
  expect(at({ 'main_compressor.current': 300 })).toBe(true);
  expect(at({})).toBeNull();
});
