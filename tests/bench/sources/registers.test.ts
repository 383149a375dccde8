/**
 * Registers per second over loopback, one request in flight: our line with every check of it, beside modbus-serial's
 * own client, in turn in one run. Two servers: modbus-serial's (which answers from a timer of a millisecond: both
 * clients wait for it most of the time) and a bare one. Ratios are what counts, of the best of ten rounds each; the
 * rates are this machine's.
 */
import { Worker } from 'node:worker_threads';
import modbusSerial from 'modbus-serial';
import { expect, test } from 'vitest';
import { ModbusLines } from '../../../agent/sources/modbus/line.ts';
import { systemTimers } from '../../../agent/sources/timers.ts';

const ModbusRTU = modbusSerial.default;
const clock = { now: () => Date.now(), monotonic: () => performance.now() };

/** Reads `times` blocks of `count` registers and returns the sum of the registers, which says that they were read. */
type Reader = (times: number, count: number) => Promise<number>;

async function ours(port: number): Promise<{ read: Reader; close: () => Promise<void> }> {
  const line = new ModbusLines({ clock, timers: systemTimers, random: Math.random }).at({ host: '127.0.0.1', port });
  const owner = {};
  line.attach(owner);
  const read: Reader = async (times, count) => {
    let sum = 0;
    const request = { table: 'holding', register: 0, count } as const;
    for (let i = 0; i < times; i += 1) {
      const outcome = await line.read({ owner, unit: 1, request, timeoutMs: 5000, pauseMs: 0 });
      if (outcome.kind !== 'reply') throw new Error(JSON.stringify(outcome));
      const view = new DataView(outcome.data.buffer, outcome.data.byteOffset);
      for (let r = 0; r < count; r += 1) sum += view.getUint16(2 * r);
    }
    return sum;
  };
  return { read, close: () => line.release(owner) };
}

async function theirs(port: number): Promise<{ read: Reader; close: () => Promise<void> }> {
  const client = new ModbusRTU();
  await client.connectTCP('127.0.0.1', { port });
  client.setID(1);
  client.setTimeout(5000);
  const read: Reader = async (times, count) => {
    let sum = 0;
    for (let i = 0; i < times; i += 1) {
      for (const register of (await client.readHoldingRegisters(0, count)).data) sum += register;
    }
    return sum;
  };
  return { read, close: () => new Promise((resolve) => client.close(() => resolve())) };
}

test.each([
  ['modbus-serial', 100],
  ['a bare server', 500],
])('against %s', async (server, times) => {
  const worker = new Worker(new URL('./device-process.ts', import.meta.url), { workerData: server });
  const port = await new Promise<number>((resolve, reject) => {
    worker.once('message', resolve);
    worker.once('error', reject);
  });
  const [a, b] = [await ours(port), await theirs(port)];
  for (const count of [10, 60, 125]) {
    const best = { ours: Number.POSITIVE_INFINITY, theirs: Number.POSITIVE_INFINITY };
    for (let round = 0; round < 10; round += 1) {
      const began = performance.now();
      const ourSum = await a.read(times, count);
      const middle = performance.now();
      const theirSum = await b.read(times, count);
      best.ours = Math.min(best.ours, middle - began);
      best.theirs = Math.min(best.theirs, performance.now() - middle);
      expect(ourSum).toBe(theirSum);
      expect(ourSum).toBeGreaterThan(0);
    }
    const rate = (ms: number): string => Math.round((times * count) / (ms / 1000)).toLocaleString('en');
    const ratio = best.theirs / best.ours;
    console.info(
      `${server}, ${count} registers: ours ${rate(best.ours)}/s, the library ${rate(best.theirs)}/s, ratio ${ratio.toFixed(2)}`,
    );
    expect(ratio).toBeGreaterThan(0.3);
  }
  await a.close();
  await b.close();
  await worker.terminate();
});
