import { describe, expect, test } from 'vitest';
import { RUNNING_START, type RunningState, runningRule } from '../../../agent/points/running.ts';
import { judgeLoops, type LoopsJudged } from '../../../agent/valves/judge.ts';
import { LOOP_NAMES, VALVE_METRICS } from '../../../agent/valves/metrics.ts';
import { valvesMessage } from '../../../agent/valves/payload.ts';
import { normal, uniform } from './loops.ts';

const NOW = Date.UTC(2026, 6, 1, 12);
const RUNNING: RunningState = { ...RUNNING_START, state: 'steady', running: true, steady: true };

type Given = Readonly<Record<string, (second: number) => number>>;

function judge(points: Given, running: RunningState = RUNNING, hours = 2): LoopsJudged {
  const n = hours * 1800;
  const columns = (name: string) => {
    const of = points[name];
    if (of === undefined) return { times: new Float64Array(0), values: new Float64Array(0) };
    const times = Float64Array.from({ length: n }, (_, i) => NOW - 2000 * (n - 1 - i));
    return { times, values: times.map((time) => of((time - NOW) / 1000)) };
  };
  return judgeLoops({ columns, now: NOW, running, rule: runningRule.parse({}) });
}

const draw = uniform(11);
const swing =
  (middle: number, amplitude: number, phase = 0) =>
  (t: number): number =>
    middle + amplitude * Math.sin((2 * Math.PI * t) / 90 + phase) + 0.002 * normal(draw);

/** Condenser valve and level swing; the tank's level follows the condenser valve. */
const BOTH: Given = {
  'condenser.level': swing(0.5, 0.05),
  'condenser_valve.position': swing(0.4, 0.04, 2),
  'condenser_valve.command': swing(0.4, 0.04, 2.1),
  'flash_tank.level': swing(0.45, 0.04, 2 - Math.PI / 2),
  'tank_valve.position': swing(0.4, 0.02, 1),
  'tank_valve.command': swing(0.4, 0.02, 1),
};

describe('both loops together', () => {
  test('the tank is driven by the valve that feeds it, the condenser is not', () => {
    const { loops } = judge(BOTH);
    expect(loops.condenser_valve).toMatchObject({ verdict: 'hunting', cause: 'tuning', driver: null });
    expect(loops.tank_valve).toMatchObject({ verdict: 'hunting', cause: 'driven', driver: 'condenser_valve.position' });
  });
  test('figures in catalogue units with uncertainties', () => {
    const { figures } = judge(BOTH);
    expect(Object.keys(figures).sort()).toEqual(VALVE_METRICS.map(({ name }) => name).sort());
    expect(Math.abs((figures['condenser_valve.period']?.value ?? 0) - 90)).toBeLessThan(0.5);
    expect(figures['condenser_valve.period']?.uncertainty).toBeGreaterThan(0);
    expect(Math.abs((figures['condenser_valve.level_amplitude']?.value ?? 0) - 0.05)).toBeLessThan(0.002);
    expect(Math.abs((figures['condenser_valve.position_amplitude']?.value ?? 0) - 0.04)).toBeLessThan(0.002);
    // Forty swings an hour, four amplitudes each: 6.4 strokes, 80 turns.
    expect(Math.abs((figures['condenser_valve.travel_per_hour']?.value ?? 0) - 6.4)).toBeLessThan(0.5);
    expect(Math.abs((figures['condenser_valve.reversals_per_hour']?.value ?? 0) - 80)).toBeLessThan(1);
    expect(figures['condenser_valve.hunting_index']?.value).toBeGreaterThan(0.9);
  });
  test('a quiet machine: index below 0.5, no period and the reason', () => {
    const quiet = () => 0.5 + 0.003 * normal(draw);
    const { loops, figures } = judge({ 'condenser.level': quiet, 'flash_tank.level': quiet });
    for (const name of LOOP_NAMES) {
      expect(loops[name].verdict).toBe('steady');
      expect(figures[`${name}.hunting_index`]?.value).toBeLessThan(0.5);
      expect(figures[`${name}.period`]).toEqual({
        value: null,
        uncertainty: null,
        quality: 'bad',
        reason: 'the loop does not hunt',
      });
      expect(figures[`${name}.travel_per_hour`]?.reason).toBe('neither position nor command is read fast');
    }
  });
  test('without fast levels there is no verdict, and it says why', () => {
    const { loops, figures } = judge({});
    expect(loops.tank_valve).toMatchObject({ verdict: 'unusable', reason: 'no fast samples of flash_tank.level' });
    expect(figures['condenser_valve.hunting_index']?.reason).toBe('no fast samples of condenser.level');
  });
});

describe('the state of the machine', () => {
  test.each([
    [{ ...RUNNING, state: 'off', running: false }, 'the machine is off'],
    [{ ...RUNNING, state: 'standstill', running: false }, 'the machine is standstill'],
    [{ ...RUNNING, state: 'unknown', running: null }, 'not known whether the machine runs'],
    [{ ...RUNNING, state: 'low-load cycling' }, 'the machine starts and stops at low load'],
  ] as const)('%o', (running, reason) => {
    for (const loop of Object.values(judge(BOTH, running as RunningState).loops))
      expect(loop).toMatchObject({ verdict: 'unusable', reason });
  });
  test('the first quarter of an hour after a start is not looked at', () => {
    const started = { ...RUNNING, state: 'load change', started: NOW - 20 * 60_000 } as const;
    const { loops } = judge(BOTH, started);
    expect(loops.condenser_valve).toMatchObject({ verdict: 'not_enough' });
    expect(loops.condenser_valve.seen?.longest_s).toBeLessThan(31);
    const fresh = judge(BOTH, { ...started, started: NOW - 60_000 });
    expect(fresh.loops.condenser_valve.reason).toBe('the machine has not run long enough since its start');
  });
  test('too short a while to call it steady: no index either, one reason for all, and what the valve did stands', () => {
    const quiet = () => 0.5 + 0.003 * normal(draw);
    const started = { ...RUNNING, state: 'load change', started: NOW - 20 * 60_000 } as const;
    const { loops, figures } = judge({ 'condenser.level': quiet, 'condenser_valve.position': () => 0.4 }, started);
    expect(loops.condenser_valve).toMatchObject({ verdict: 'not_enough', index: null });
    const absent = {
      value: null,
      uncertainty: null,
      quality: 'bad',
      reason: 'a slower swing could not have shown yet',
    };
    for (const name of ['hunting_index', 'period', 'level_amplitude', 'position_amplitude'])
      expect(figures[`condenser_valve.${name}`], name).toEqual(absent);
    for (const name of ['travel_per_hour', 'reversals_per_hour'])
      expect(figures[`condenser_valve.${name}`], name).toMatchObject({ value: 0, quality: 'good', reason: null });
  });
  test('hunting is told as soon as it shows, with its index', () => {
    const started = { ...RUNNING, state: 'load change', started: NOW - 40 * 60_000 } as const;
    const { figures } = judge({ 'condenser.level': swing(0.5, 0.05) }, started);
    expect(figures['condenser_valve.hunting_index']?.value).toBeGreaterThan(0.9);
  });
  test('no more than two hours are read', () => {
    expect(judge(BOTH, RUNNING, 6).loops.condenser_valve.seen?.longest_s).toBeLessThanOrEqual(720);
  });
});

test('the message of the valves', () => {
  const { loops } = judge(BOTH);
  const message = valvesMessage({
    root: 'tonhour/site',
    chiller: 'CH-1',
    time: '2026-07-01T12:00:00Z',
    sequence: 9,
    loops,
  });
  expect(message).toMatchObject({
    sink: 'mqtt',
    address: 'tonhour/site/CH-1/valves',
    retain: false,
    chiller: 'CH-1',
    sequence: 9,
  });
  const payload = JSON.parse(message.payload);
  expect(payload).toMatchObject({ time: '2026-07-01T12:00:00Z', sequence: 9 });
  expect(Object.keys(payload.loops)).toEqual(['condenser_valve', 'tank_valve']);
  expect(payload.loops.tank_valve).toMatchObject({ verdict: 'hunting', cause: 'driven', flags: [] });
  expect(payload.loops.tank_valve.period_s).toBeCloseTo(90, 0);
});
