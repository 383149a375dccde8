import { describe, expect, test } from 'vitest';
import { analyseLoop } from '../../../agent/valves/analyse.ts';
import { friction, turning } from '../../../agent/valves/stroke.ts';
import type { Driver, LoopVerdict, LoopWindow } from '../../../agent/valves/types.ts';
import { normal, StickingValve, uniform } from './loops.ts';

const N = 3600;
const STEP = 2000;
type Of = (second: number) => number;

/** Each value is repeated for `hold` samples, as a slow gateway does. */
function columns(of: Of, { n = N, hold = 1 }: { n?: number; hold?: number } = {}) {
  const times = Float64Array.from({ length: n }, (_, i) => i * STEP);
  const values = new Float64Array(n);
  for (let i = 0; i < n; i++) values[i] = i % hold === 0 ? of((i * STEP) / 1000) : (values[i - 1] as number);
  return { times, values };
}

interface Given extends Partial<Omit<LoopWindow, 'measured' | 'output' | 'position' | 'setpoint'>> {
  readonly level: Of;
  readonly command?: Of;
  readonly position?: Of;
  readonly setpoint?: Of;
  readonly n?: number;
  readonly hold?: number;
}

function judge(
  { level, command, position, setpoint, n, hold, ...rest }: Given,
  scope: 'whole' | 'recent' = 'recent',
): LoopVerdict {
  const size = { ...(n === undefined ? {} : { n }), ...(hold === undefined ? {} : { hold }) };
  const window: LoopWindow = {
    kind: 'level',
    drivers: [],
    band: 0.01,
    stroke: 1,
    ...rest,
    measured: columns(level, size),
    output: command === undefined ? null : columns(command, size),
    position: position === undefined ? null : columns(position, size),
    setpoint: setpoint === undefined ? null : columns(setpoint, size),
  };
  return analyseLoop(window, scope);
}

const noisy = (seed: number, size: number): Of => {
  const draw = uniform(seed);
  return () => size * normal(draw);
};
/** No swing at all. */
const quiet = (seed: number): Of => {
  const noise = noisy(seed, 0.003);
  return (t) => 0.5 + noise(t);
};
const wave = (period: number, amplitude: number, noise = noisy(1, amplitude / 10)): Of => {
  return (t) => 0.5 + amplitude * Math.sin((2 * Math.PI * t) / period) + noise(t);
};

describe('not enough, unusable', () => {
  test('nine periods are not enough, eleven are', () => {
    const period = 120;
    const said = (periods: number) => judge({ level: wave(period, 0.05), n: (periods * period) / 2 });
    expect(said(9).verdict).toBe('not_enough');
    expect(said(9).seen?.longest_s).toBeLessThan(period);
    expect(said(11.5).verdict).toBe('hunting');
  });
  test('fifty new values at least, whatever the polling', () => {
    const found = judge({ level: wave(300, 0.05), n: 400, hold: 10 });
    expect([found.verdict, found.seen?.interval_s]).toEqual(['not_enough', 20]);
    expect(found.reason).toContain('every 20 s');
  });
  test('a quiet window of ten minutes says nothing of slower hunting', () => {
    expect(judge({ level: quiet(2), n: 300 })).toMatchObject({
      verdict: 'not_enough',
      cause: null,
    });
  });
  test('a frozen level', () => {
    expect(judge({ level: () => 0.5 })).toMatchObject({
      verdict: 'unusable',
      reason: 'the measured value never moves',
    });
  });
  test('after a hole only what follows counts', () => {
    const window = columns(wave(60, 0.05));
    const hole = window.times.map((time, i) => (i < 3400 ? time : time + 600_000));
    const found = analyseLoop(
      {
        kind: 'level',
        measured: { ...window, times: hole },
        output: null,
        position: null,
        setpoint: null,
        drivers: [],
        band: 0.01,
        stroke: 1,
      },
      'recent',
    );
    expect([found.verdict, found.flags.includes('hole')]).toEqual(['not_enough', true]);
  });
});

describe('what is hunting and what is not', () => {
  test('a gateway that refreshes every 20 s: periods from 100 s on', () => {
    const found = judge({ level: wave(240, 0.05), hold: 10 });
    expect(found).toMatchObject({ verdict: 'hunting', seen: { interval_s: 20, shortest_s: 100 } });
    expect(Math.abs((found.period_s?.value ?? 0) - 240)).toBeLessThan(4);
  });
  test('regular, but within the band', () => {
    const found = judge({ level: wave(60, 0.008, noisy(3, 0.001)) });
    expect([found.verdict, found.flags]).toEqual(['steady', ['small_amplitude']]);
    expect(found.index).toBeLessThan(0.5);
  });
  test('it ended half an hour ago', () => {
    const [swing, rest] = [wave(60, 0.05), quiet(4)];
    expect(judge({ level: (t) => (t < 5400 ? swing(t) : rest(t)) }).verdict).toBe('steady');
  });
  test('it began twenty minutes ago', () => {
    const [swing, rest] = [wave(60, 0.05), quiet(4)];
    expect(judge({ level: (t) => (t > 6000 ? swing(t) : rest(t)) }).verdict).toBe('hunting');
  });
  test('after a step of the set point it begins anew', () => {
    const found = judge({ level: wave(200, 0.05), setpoint: (t) => (t < 7000 ? 0.5 : 0.55) });
    expect([found.verdict, found.flags]).toEqual(['not_enough', ['setpoint_step']]);
  });
  test('a level that follows its moving set point', () => {
    const found = judge({
      level: wave(200, 0.05),
      setpoint: (t) => 0.5 + 0.05 * Math.sin((2 * Math.PI * (t + 10)) / 200),
    });
    expect(found.verdict).toBe('steady');
    expect(found.flags).toContain('follows_setpoint');
  });
  test('it dies away', () => {
    const swing = wave(120, 1);
    expect(judge({ level: (t) => 0.5 + 0.3 * Math.exp(-t / 1500) * (swing(t) - 0.5) }).verdict).toBe('steady');
  });
});

describe('causes', () => {
  const level = wave(80, 0.04);
  const outside = (of: Of, relation: Driver['relation'] = 'outside'): Driver[] => [
    { name: 'main_compressor.vane_position', relation, columns: columns(of) },
  ];
  const own: Of = (t) => 0.4 + 0.02 * Math.sin((2 * Math.PI * t) / 80);
  test('none beside it: tuning', () => expect(judge({ level, command: own, position: own }).cause).toBe('tuning'));
  test('valve at its limit', () => {
    expect(judge({ level, command: (t) => Math.max(0, own(t) - 0.39) }).cause).toBe('valve at its limit');
    expect(judge({ level, command: (t) => Math.min(0.41, own(t)) }).cause).toBe('valve at its limit');
  });
  test('coarse signal: the level knows three values', () => {
    const coarse: Of = (t) => Math.round(20 * (0.5 + 0.045 * Math.sin((2 * Math.PI * t) / 80))) / 20;
    expect(judge({ level: coarse, command: own, position: own }).cause).toBe('coarse actuator or signal');
  });
  test('vanes that lead: the level rises while they are open', () => {
    const vanes: Of = (t) => 0.7 + 0.05 * Math.cos((2 * Math.PI * (t + 4)) / 80);
    expect(judge({ level, drivers: outside(vanes) })).toMatchObject({
      cause: 'driven',
      driver: 'main_compressor.vane_position',
    });
  });
  test('vanes that come after do not drive', () => {
    const vanes: Of = (t) => 0.7 + 0.05 * Math.cos((2 * Math.PI * (t - 12)) / 80);
    expect(judge({ level, drivers: outside(vanes) }).cause).toBe('tuning');
  });
  test('vanes at a pace of their own do not drive', () => {
    const vanes: Of = (t) => 0.7 + 0.05 * Math.cos((2 * Math.PI * t) / 97);
    expect(judge({ level, drivers: outside(vanes) }).cause).toBe('tuning');
  });
  test('a feeding valve that hardly moves does not drive one that moves much', () => {
    const feed =
      (size: number): Of =>
      (t) =>
        0.4 + size * Math.cos((2 * Math.PI * t) / 80);
    expect(judge({ level, command: own, position: own, drivers: outside(feed(0.03), 'inflow') }).cause).toBe('driven');
    expect(judge({ level, command: own, position: own, drivers: outside(feed(0.004), 'inflow') }).cause).toBe('tuning');
  });
});

describe('valves', () => {
  test('travel and reversals of a zigzag, noise left out', () => {
    const draw = uniform(8);
    const values = Float64Array.from(
      { length: 2000 },
      (_, i) => Math.abs((i % 200) - 100) / 100 + 0.004 * normal(draw),
    );
    const { travel, reversals } = turning(values, 0.05);
    // Twenty ways of one stroke each, and nineteen turns.
    expect(travel).toBeGreaterThan(19.7);
    expect(travel).toBeLessThan(20.6);
    expect(reversals).toBe(19);
  });
  test('dead band and jump of the two-parameter model are found again', () => {
    const stem = new StickingValve(0.4, 0.05, 0.03);
    const command = Float64Array.from({ length: 4000 }, (_, i) => 0.4 + 0.06 * Math.sin(i / 60));
    const position = command.map((value) => stem.step(value));
    const found = friction(command, position, 0.001);
    expect(found?.band).toBeCloseTo(0.05, 2);
    expect(found?.spread).toBeGreaterThan(1.7);
  });
  test('a valve that follows has no dead band', () => {
    const command = Float64Array.from({ length: 4000 }, (_, i) => 0.4 + 0.06 * Math.sin(i / 60));
    expect(friction(command, command, 0.001)?.band ?? 0).toBeLessThan(0.001);
  });
  test('a valve that never moves though it is told to', () => {
    const stuck = judge({
      level: wave(80, 0.04),
      command: (t) => 0.4 + 0.1 * Math.sin((2 * Math.PI * t) / 80),
      position: () => 0.4,
    });
    expect(stuck).toMatchObject({ cause: 'friction or backlash', sticking: { verdict: 'sticking', score: 1 } });
  });
});
