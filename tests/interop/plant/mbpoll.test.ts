/** mbpoll (Debian; built on libmodbus, another implementation of the protocol) reads the plant's registers. */
import { execFile } from 'node:child_process';
import { promisify } from 'node:util';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { ModbusServer } from '../../../agent/plant/modbus-server.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';
import type { ModbusPoint } from '../../../agent/plant/point-map.ts';
import { RegisterImage } from '../../../agent/plant/registers.ts';

const run = promisify(execFile);
const machine = new ParallelMachine(CH1, 31);
const plant = new Plant({ machine, seed: 31, start: Date.UTC(2026, 6, 1, 14), faults: [], warmUp: 3600 });
const image = new RegisterImage(machine.points);
image.update(plant.sensors.values());
const server = new ModbusServer(image, { host: '127.0.0.1', port: 0 });

beforeAll(() => server.start());
afterAll(() => server.stop());

/** Zero-based addresses (-0), once (-1). mbpoll's float takes the low word first; -B swaps it to high word first. */
async function mbpoll(point: ModbusPoint): Promise<number> {
  const base = point.table === 'holding' ? '4' : '3';
  const type = { int16: base, uint16: base, uint32: `${base}:int`, float32: `${base}:float` }[point.type];
  const args = ['-m', 'tcp', '-p', String(server.port), '-a', String(point.unitId), '-0', '-r', String(point.register)];
  if (point.order === 'ABCD') args.push('-B');
  const { stdout } = await run('mbpoll', [...args, '-t', type, '-c', '1', '-1', '127.0.0.1']);
  const found = /^\[\d+\]:\s+(\S+)(?:\s+\((-?\d+)\))?/m.exec(stdout);
  if (found === null) throw new Error(`mbpoll answered: ${stdout}`);
  const shown = Number(point.type === 'int16' ? (found[2] ?? found[1]) : found[1]);
  return shown * point.scale + point.offset;
}

test('every point read by mbpoll is what its sensor shows', async () => {
  for (const point of CH1.points) {
    const { published } = plant.sensors.get(point.name)!;
    const found = await mbpoll(point);
    // mbpoll prints six significant digits of a float.
    expect(Math.abs(found - published), point.name).toBeLessThanOrEqual(1e-5 * Math.abs(published) + 1e-6);
  }
});

test('mbpoll cannot write', async () => {
  const before = image.read(1, 'holding', 101);
  const write = run('mbpoll', [
    ...['-m', 'tcp', '-p', String(server.port), '-a', '1', '-0', '-r', '101', '-t', '4', '-1', '127.0.0.1', '4242'],
  ]);
  await expect(write).rejects.toThrow(/[Ii]llegal function/);
  expect(image.read(1, 'holding', 101)).toBe(before);
});
