/**
 * What the source does above the framing: when it polls, what it says of points it cannot read, how it rests and comes
 * back. Fake time throughout.
 */
import { beforeEach, describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { must } from '../../../agent/base/result.ts';
import type { RawSample, Source } from '../../../agent/points/types.ts';
import type { ModbusAddress } from '../../../agent/site/buses/modbus.ts';
import { modbusSource as settingsSchema } from '../../../agent/site/buses/modbus.ts';
import { ModbusLine } from '../../../agent/sources/modbus/line.ts';
import { type ModbusSourceOptions, modbusSource } from '../../../agent/sources/modbus/source.ts';
import { FakeTime, seeded } from './fake-time.ts';
import { MemoryDevice } from './memory-device.ts';

type Points = ModbusSourceOptions['points'];

let time: FakeTime;
let device: MemoryDevice;
let samples: RawSample[];
let logged: string[];

beforeEach(() => {
  time = new FakeTime();
  device = new MemoryDevice(time);
  samples = [];
  logged = [];
});

function at(register: number, unit = 1): ModbusAddress {
  return { unit, table: 'holding', register, type: 'uint16', order: 'ABCD' };
}

/** One ordinary point for each register. */
function ordinary(...registers: number[]): Points {
  return registers.map((register) => ({ name: `r${register}`, address: at(register), fast: false }));
}

function build(points: Points, settings: object = {}): Source {
  const log = {
    info: (_: object, message: string) => void logged.push(message),
    warn: (fields: Readonly<Record<string, unknown>>, message: string) =>
      void logged.push(`${message}: ${fields['reason']}`),
  };
  const line = new ModbusLine({ connect: device.connect, clock: time, timers: time, random: seeded(5) });
  const parsed = settingsSchema.parse({ host: 'controller', ...settings });
  const common = { clock: time, timers: time, random: seeded(6), log, line };
  return must(modbusSource({ chiller: 'CH-1', settings: parsed, points, ...common }));
}

async function start(points: Points, settings: object = {}): Promise<Source> {
  const source = build(points, settings);
  await source.start({ record: (sample) => void samples.push(sample) });
  await time.pass(0);
  return source;
}

const last = (point: string): RawSample | undefined => samples.findLast((sample) => sample.point === point);

describe('when it polls', () => {
  test('ordinary points every poll_s, fast ones every fast_s, both at once at the start', async () => {
    const source = await start([...ordinary(1), { name: 'quick', address: at(100), fast: true }]);
    await time.pass(59_999);
    expect(device.requests.filter(({ register }) => register === 1).map(({ at: ms }) => ms)).toEqual(
      Array.from({ length: 12 }, (_, i) => 5000 * i),
    );
    expect(device.requests.filter(({ register }) => register === 100).length).toBe(30);
    expect(samples.filter(({ point }) => point === 'quick').every(({ raw }) => raw === 100)).toBe(true);
    await source.stop();
  });

  test('a slow device is polled at its own pace: late beats are skipped, counted, never made up for', async () => {
    device.latencyMs = 12_000;
    const source = await start([...ordinary(1), { name: 'quick', address: at(100), fast: true }], {
      timeout_ms: 30_000,
    });
    await time.pass(300_000);
    expect(device.mostInFlight).toBe(1);
    expect(device.requests.length).toBeLessThanOrEqual(26);
    expect(source.status().counters['polls_skipped']).toBeGreaterThan(100);
    // quick again: the beats that passed are not made up for
    device.latencyMs = 0;
    const slow = device.requests.length;
    await time.pass(12_000);
    expect(device.requests.length - slow).toBeLessThanOrEqual(12_000 / 2000 + 12_000 / 5000 + 2);
    const before = device.requests.length;
    await time.pass(20_000);
    expect(device.requests.length - before).toBe(14);
    await source.stop();
  });

  test('the wall clock set back a day changes no beat', async () => {
    const source = await start(ordinary(1));
    await time.pass(10_000);
    time.stepWallClock(-86_400_000);
    await time.pass(49_999);
    expect(device.requests.length).toBe(12);
    await source.stop();
  });

  test('the pause between two requests is kept, also between two sources', async () => {
    const source = await start([...ordinary(1, 100, 200), { name: 'quick', address: at(300), fast: true }], {
      pause_ms: 150,
    });
    await time.pass(60_000);
    const gaps = device.requests.slice(1).map(({ at: ms }, i) => ms - device.requests[i]!.at);
    expect(gaps.length).toBeGreaterThan(60);
    expect(Math.min(...gaps)).toBeGreaterThanOrEqual(150);
    await source.stop();
  });

  test('points of one table close together cost one request', async () => {
    const source = await start(ordinary(0, 1, 2, 3, 10, 20, 30));
    expect(device.requests.map(({ register, count }) => [register, count])).toEqual([[0, 31]]);
    expect(samples.map(({ point, raw }) => [point, raw])).toEqual([0, 1, 2, 3, 10, 20, 30].map((r) => [`r${r}`, r]));
    await source.stop();
  });
});

describe('a register the device refuses', () => {
  test('costs its own point alone, in the same pass; later passes ask for the parts at once', async () => {
    device.illegal.add(7);
    const source = await start(ordinary(...Array.from({ length: 16 }, (_, i) => i)));
    expect(samples.length).toBe(16);
    for (const { point, raw, reason } of samples) {
      if (point === 'r7') expect([raw, reason]).toEqual([null, 'exception 2: illegal data address']);
      else expect(raw).toBe(Number(point.slice(1)));
    }
    // 16 registers: halves at each of four levels, two requests each, and the whole
    expect(device.requests.length).toBe(9);
    const first = device.requests.length;
    await time.pass(5000);
    expect(device.requests.length - first).toBe(5);
    expect(source.status()).toMatchObject({ state: 'connected', reason: null, counters: { anomalies: 0 } });
    expect(logged).toEqual([
      'controller answers',
      'controller refuses to read an address: exception 2: illegal data address',
    ]);
    await source.stop();
  });

  test('in a gap that nobody asked for: no point is lost', async () => {
    device.illegal.add(5);
    const source = await start(ordinary(0, 1, 9, 10));
    expect(samples.map(({ point, raw }) => [point, raw])).toEqual([0, 1, 9, 10].map((r) => [`r${r}`, r]));
    await source.stop();
  });

  test('is tried again within the whole block after an hour, and joined when it is served', async () => {
    device.illegal.add(7);
    const source = await start(ordinary(...Array.from({ length: 16 }, (_, i) => i)));
    device.illegal.clear();
    await time.pass(5000);
    expect(last('r7')!.raw).toBe(7);
    await time.pass(1000 * LIMITS.modbus_rejoin_s);
    const before = device.requests.length;
    await time.pass(5000);
    expect(device.requests.length - before).toBe(1);
    await source.stop();
  });

  test('32-bit values are never taken apart', async () => {
    device.illegal.add(3);
    const address = (register: number): ModbusAddress => ({
      unit: 1,
      table: 'holding',
      register,
      type: 'uint32',
      order: 'ABCD',
    });
    const points = [0, 2, 4].map((register) => ({ name: `r${register}`, address: address(register), fast: false }));
    const source = await start(points);
    expect(new Set(device.requests.map(({ count }) => count))).toEqual(new Set([6, 2, 4]));
    expect(samples.map(({ point, raw }) => [point, raw]).sort()).toEqual([
      ['r0', 1],
      ['r2', null],
      ['r4', 0x4_0005],
    ]);
    await source.stop();
  });
});

describe('a device that fails as a whole', () => {
  test('busy (6): every point says so, nothing is taken apart, the link stands', async () => {
    device.failing = 6;
    const source = await start(ordinary(0, 1, 2));
    await time.pass(60_000);
    expect(new Set(samples.map(({ reason }) => reason))).toEqual(new Set(['exception 6: device busy']));
    expect(device.requests.every(({ count }) => count === 3)).toBe(true);
    expect(source.status().state).toBe('connected');
    expect(device.attempts.length).toBe(1);
    await source.stop();
  });

  test('failure (4) three times in a row is taken for a refused register', async () => {
    device.failing = 4;
    const source = await start(ordinary(0, 1));
    await time.pass(5000);
    expect(device.requests.map(({ count }) => count)).toEqual([2, 2]);
    await time.pass(5000);
    expect(device.requests.map(({ count }) => count)).toEqual([2, 2, 2, 1, 1]);
    await source.stop();
  });
});

describe('a device that is lost', () => {
  test('refused for an hour: rests between the bounds, says why at every poll, logs once, back within one rest', async () => {
    device.refusing = 'connection refused';
    const source = await start(ordinary(1));
    await time.pass(3_600_000);
    const rests = device.attempts.slice(1).map((ms, i) => ms - device.attempts[i]!);
    expect(Math.min(...rests)).toBeGreaterThanOrEqual(LIMITS.backoff_ms_min);
    expect(Math.max(...rests)).toBeLessThanOrEqual(LIMITS.backoff_ms_max);
    expect(rests.at(-1)!).toBeGreaterThan(LIMITS.backoff_ms_max / 2 - 1);
    expect(samples.length).toBeGreaterThanOrEqual(720);
    expect(samples.every(({ raw, reason }) => raw === null && reason === 'connection refused')).toBe(true);
    expect(source.status()).toMatchObject({
      state: 'lost',
      reason: 'connection refused',
      since: time.now() - 3_600_000,
    });
    expect(logged).toEqual(['controller lost: connection refused']);
    device.refusing = null;
    await time.pass(LIMITS.backoff_ms_max);
    expect(source.status()).toMatchObject({ state: 'connected', reason: null });
    expect(last('r1')!.raw).toBe(1);
    await source.stop();
  });

  test('a silent device costs one timeout a pass, however many blocks there are', async () => {
    device.silent.add(1);
    const source = await start(ordinary(0, 100, 200, 300, 400));
    await time.pass(1000);
    expect(device.requests.length).toBe(1);
    expect(samples.map(({ reason }) => reason)).toEqual(Array(5).fill('no reply within 1000 ms'));
    expect(source.status().counters).toMatchObject({ requests: 1, timeouts: 1, replies: 0 });
    await source.stop();
  });

  test('one lost reply: back within a second, without waiting for the next beat', async () => {
    const source = await start(ordinary(0), { poll_s: 60, fast_s: 60 });
    device.silent.add(1);
    await time.pass(61_000);
    expect(source.status().state).toBe('lost');
    device.silent.clear();
    await time.pass(2 * LIMITS.backoff_ms_min);
    expect(source.status().state).toBe('connected');
    expect(last('r0')!.raw).toBe(0);
    // and the beat is the old one
    const before = device.requests.length;
    await time.pass(120_000 - time.monotonic() - 1);
    expect(device.requests.length).toBe(before);
    await time.pass(1);
    expect(device.requests.length).toBe(before + 1);
    await source.stop();
  });

  test('one unit of two: the other is read at every beat, the silent one is named', async () => {
    device.silent.add(2);
    const source = await start([...ordinary(0), { name: 'far', address: at(0, 2), fast: false }]);
    await time.pass(300_000);
    const near = samples.filter(({ point }) => point === 'r0');
    expect(near.length).toBeGreaterThanOrEqual(61);
    expect(near.every(({ raw }) => raw === 0)).toBe(true);
    expect(samples.filter(({ point }) => point === 'far').every(({ raw }) => raw === null)).toBe(true);
    expect(source.status()).toMatchObject({ state: 'connected', reason: 'unit 2: no reply within 1000 ms' });
    expect(device.requests.filter(({ unit }) => unit === 2).length).toBeLessThan(20);
    expect(logged.length).toBe(2);
    await source.stop();
  });
});

describe('the end', () => {
  test('stop in the middle of a slow reply settles at once and closes the connection', async () => {
    device.latencyMs = 25_000;
    const source = await start(ordinary(1), { timeout_ms: 30_000 });
    await time.pass(10);
    await source.stop();
    expect([device.open, device.inFlight, time.waiting, samples.length]).toEqual([0, 0, 0, 0]);
    expect(source.status()).toMatchObject({ state: 'stopped' });
  });

  test('stop during the pause before a request sends nothing more', async () => {
    const source = await start(ordinary(1, 100), { pause_ms: 5000 });
    expect(device.requests.length).toBe(1);
    await source.stop();
    await time.pass(60_000);
    expect([device.requests.length, time.waiting]).toEqual([1, 0]);
  });
});
