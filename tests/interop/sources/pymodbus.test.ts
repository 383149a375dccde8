/**
 * A device served by pymodbus (Debian: python3-pymodbus, python3-serial, python3-serial-asyncio), an implementation of
 * the protocol and of every type and order that shares nothing with ours: each of its points is read as it says. Its
 * tables have holes, which it refuses with exception 2.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { type ModbusAddress, modbusSource as settingsSchema } from '../../../agent/site/buses/modbus.ts';
import { modbusSource } from '../../../agent/sources/modbus/source.ts';
import { systemTimers } from '../../../agent/sources/timers.ts';
import { Keeper } from '../../contract/sources/source-contract.ts';
import { until } from '../../unit/sources/fake-time.ts';

interface Announced {
  readonly port: number;
  readonly points: readonly { readonly name: string; readonly address: ModbusAddress; readonly raw: number }[];
}

let device: ChildProcess;
let announced: Announced;

beforeAll(async () => {
  const script = new URL('./device.py', import.meta.url).pathname;
  device = spawn('/usr/bin/python3', [script], { stdio: ['ignore', 'pipe', 'inherit'] });
  const lines = createInterface({ input: device.stdout! });
  announced = await new Promise<Announced>((resolve, reject) => {
    lines.once('line', (line) => resolve(JSON.parse(line) as Announced));
    device.once('exit', (code) => reject(new Error(`the device ended with ${code}; is python3-pymodbus installed?`)));
  });
});

afterAll(async () => {
  const ended = new Promise((resolve) => device.once('exit', resolve));
  device.kill();
  await ended;
});

test.each([125, 10])(
  'every type, order, table and unit is read as the device says, blocks of at most %i registers',
  async (most) => {
    // a source carries at most 200 points: one for each unit, as two chillers behind one gateway
    const units = [1, 7].map((unit) => announced.points.filter(({ address }) => address.unit === unit));
    expect(units.every((points) => points.length > 140)).toBe(true);
    for (const points of units) {
      const sink = new Keeper();
      const settings = settingsSchema.parse({
        host: '127.0.0.1',
        port: announced.port,
        max_registers: most,
        timeout_ms: 10_000,
      });
      const source = must(
        modbusSource({
          chiller: 'CH-1',
          settings,
          points: points.map(({ name, address }) => ({ name, address, fast: false })),
          clock: { now: () => Date.now(), monotonic: () => performance.now() },
          timers: systemTimers,
          random: Math.random,
          log: { info: () => {}, warn: () => {} },
        }),
      );
      await source.start(sink);
      await until(() => points.every(({ name }) => sink.last(name) !== undefined));
      for (const { name, raw } of points) expect(sink.last(name)).toMatchObject({ point: name, raw });
      expect(source.status()).toMatchObject({ state: 'connected', reason: null });
      const { exceptions, timeouts, anomalies } = source.status().counters;
      // the holes were met and walked round
      expect(exceptions).toBeGreaterThan(0);
      expect([timeouts, anomalies]).toEqual([0, 0]);
      await source.stop();
    }
  },
);
