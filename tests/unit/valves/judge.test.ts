import { describe, expect, test } from 'vitest';
import { RUNNING_START, type RunningState, runningRule } from '../../../agent/points/running.ts';
import { judgeLoops, type LoopsInput, type LoopsJudged, loopsOf } from '../../../agent/valves/judge.ts';
import { VALVE_METRICS } from '../../../agent/valves/metrics.ts';
import { valvesMessage } from '../../../agent/valves/payload.ts';
import { normal, uniform } from './loops.ts';

const NOW = Date.UTC(2026, 6, 1, 12);
const RUNNING: RunningState = { ...RUNNING_START, state: 'steady', running: true, steady: true };

type Given = Readonly<Record<string, (second: number) => number>>;

const PARALLEL: LoopsInput['machine'] = { arrangement: 'parallel', stages: 2 };
const THREE: LoopsInput['machine'] = { arrangement: 'interstage', stages: 3 };

function judge(
  points: Given,
  running: RunningState = RUNNING,
  { hours = 2, machine = PARALLEL }: { hours?: number; machine?: LoopsInput['machine'] } = {},
): LoopsJudged {
  const n = hours * 1800;
  const columns = (name: string) => {
    const of = points[name];
    if (of === undefined) return { times: new Float64Array(0), values: new Float64Array(0) };
    const times = Float64Array.from({ length: n }, (_, i) => NOW - 2000 * (n - 1 - i));
    return { times, values: times.map((time) => of((time - NOW) / 1000)) };
  };
  return judgeLoops({ machine, columns, now: NOW, running, rule: runningRule.parse({}) });
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
    for (const name of loopsOf(PARALLEL)) {
      expect(loops[name]?.verdict).toBe('steady');
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

describe('every loop that the machine has', () => {
  test.each([
    ['simple', 2, ['condenser_valve']],
    ['subcooler', 2, ['condenser_valve']],
    ['parallel', 2, ['condenser_valve', 'tank_valve']],
    ['interstage', 2, ['condenser_valve', 'tank_valve']],
    ['interstage', 3, ['condenser_valve', 'tank_valve', 'tank_valve_2']],
  ] as const)('%s, %i stages', (arrangement, stages, names) => {
    const machine = { arrangement, stages };
    expect(loopsOf(machine)).toEqual(names);
    const { loops, figures } = judge(BOTH, RUNNING, { machine });
    expect(Object.keys(loops)).toEqual(names);
    const without = VALVE_METRICS.filter(({ name }) => !names.some((loop) => name.startsWith(`${loop}.`)));
    for (const { name } of without)
      expect(figures[name]?.reason, name).toMatch(/^this machine has no (second )?flash tank$/);
  });

  // The second tank swings 0.05 at 90 s by construction; its valve moves as the integral asks, a quarter period off.
  const ITS_OWN: Given = {
    'condenser.level': () => 0.5 + 0.003 * normal(draw),
    'flash_tank.level': () => 0.45 + 0.003 * normal(draw),
    'flash_tank_2.level': swing(0.4, 0.05),
    'tank_valve_2.position': swing(0.4, 0.04, 2),
    'tank_valve_2.command': swing(0.4, 0.04, 2.1),
  };

  test('the second tank hunts by itself, and by itself alone', () => {
    const { loops, figures } = judge(ITS_OWN, RUNNING, { machine: THREE });
    expect(loops.tank_valve_2).toMatchObject({ verdict: 'hunting', cause: 'tuning', driver: null });
    expect(loops.condenser_valve?.verdict).toBe('steady');
    expect(loops.tank_valve?.verdict).toBe('steady');
    expect(Math.abs((figures['tank_valve_2.period']?.value ?? 0) - 90)).toBeLessThan(0.5);
    expect(Math.abs((figures['tank_valve_2.level_amplitude']?.value ?? 0) - 0.05)).toBeLessThan(0.002);
    expect(figures['tank_valve_2.hunting_index']?.value).toBeGreaterThan(0.9);
    expect(figures['tank_valve.hunting_index']?.value).toBeLessThan(0.5);
  });

  test('it follows the first tank valve, which feeds it', () => {
    const fed: Given = {
      ...BOTH,
      'flash_tank_2.level': swing(0.4, 0.04, 1 - Math.PI / 2),
      'tank_valve_2.position': swing(0.4, 0.01, 0.2),
      'tank_valve_2.command': swing(0.4, 0.01, 0.2),
    };
    const { loops } = judge(fed, RUNNING, { machine: THREE });
    expect(loops.tank_valve_2).toMatchObject({ verdict: 'hunting', cause: 'driven', driver: 'tank_valve.position' });
  });

  test('without its level among the fast points it says which is missing', () => {
    const { loops } = judge(BOTH, RUNNING, { machine: THREE });
    expect(loops.tank_valve_2).toMatchObject({ verdict: 'unusable', reason: 'no fast samples of flash_tank_2.level' });
  });

  test('its verdict travels in the message', () => {
    const { loops } = judge(ITS_OWN, RUNNING, { machine: THREE });
    const message = valvesMessage({ root: 'r', chiller: 'CH-3', time: '2026-07-01T12:00:00Z', sequence: 1, loops });
    const payload = JSON.parse(message.payload);
    expect(Object.keys(payload.loops)).toEqual(['condenser_valve', 'tank_valve', 'tank_valve_2']);
    expect(payload.loops.tank_valve_2).toMatchObject({ verdict: 'hunting', cause: 'tuning' });
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
    expect(loops.condenser_valve?.seen?.longest_s).toBeLessThan(31);
    const fresh = judge(BOTH, { ...started, started: NOW - 60_000 });
    expect(fresh.loops.condenser_valve?.reason).toBe('the machine has not run long enough since its start');
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
    expect(judge(BOTH, RUNNING, { hours: 6 }).loops.condenser_valve?.seen?.longest_s).toBeLessThanOrEqual(720);
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
