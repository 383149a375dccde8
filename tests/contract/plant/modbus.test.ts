/** The plant's Modbus TCP side as a client sees it. Exception codes: Modbus Application Protocol V1.1b3, section 7. */
import { readFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { afterEach, describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { ModbusServer } from '../../../agent/plant/modbus-server.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';
import { RegisterImage } from '../../../agent/plant/registers.ts';
import { type Client, connect, readPoint, type Served, serve } from './client.ts';

const ends: (() => Promise<unknown>)[] = [];
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end();
});

async function open(port: number, timeout?: number): Promise<Client> {
  const client = await connect(port, timeout);
  ends.push(() => new Promise<void>((resolve) => client.destroy(() => resolve())));
  return client;
}

async function served(...args: string[]): Promise<Served> {
  const one = await serve(...args);
  ends.push(() => one.stop());
  return one;
}

function codeOf(promise: Promise<unknown>): Promise<unknown> {
  return promise.then(
    () => 'answered',
    (error) => (error as { modbusCode?: number; errno?: string }).modbusCode ?? (error as { errno?: string }).errno,
  );
}

/** A plant at rest behind a server, so that registers can be compared with what they stand for. */
async function still(): Promise<{ plant: Plant; image: RegisterImage; server: ModbusServer }> {
  const machine = new ParallelMachine(CH1, 2);
  const plant = new Plant({ machine, seed: 2, start: Date.UTC(2026, 6, 1, 14), faults: [], warmUp: 1800 });
  const image = new RegisterImage(machine.points);
  image.update(plant.sensors.values());
  const server = new ModbusServer(image, { host: '127.0.0.1', port: 0 });
  await server.start();
  ends.push(() => server.stop());
  return { plant, image, server };
}

test('every point, decoded by the map, is what its sensor shows', async () => {
  const { plant, server } = await still();
  const client = await open(server.port);
  for (const point of CH1.points) {
    const { published } = plant.sensors.get(point.name)!;
    const found = await readPoint(client, point);
    expect(Math.abs(found - published), point.name).toBeLessThanOrEqual(1e-6 * Math.abs(published) + 1e-9);
  }
});

test('negative numbers travel as two complement', async () => {
  const { plant, image, server } = await still();
  const sensor = plant.sensors.get('condenser.liquid_temperature')!;
  sensor.busFault = { kind: 'raw', raw: -32_768 };
  plant.advance(1);
  image.update(plant.sensors.values());
  const client = await open(server.port);
  const point = CH1.points.find(({ name }) => name === 'condenser.liquid_temperature')!;
  expect(await readPoint(client, point)).toBeCloseTo(-3276.8, 6);
});

test('the command serves moving values at speed, and ends when stopped', async () => {
  const one = await serve('--speed', '2000', '--start', '2026-07-01T08:00:00Z');
  const client = await open(one.port);
  const [flow, hours] = ['condenser_water.entering_temperature', 'main_compressor.run_hours'].map(
    (name) => CH1.points.find((point) => point.name === name)!,
  );
  const first = await readPoint(client, flow!);
  const firstHours = await readPoint(client, hours!);
  const moved = async () =>
    (await readPoint(client, flow!)) !== first && (await readPoint(client, hours!)) > firstHours;
  await expect.poll(moved, { timeout: 20_000 }).toBe(true);
  expect(await one.stop()).toBe(0);
});

describe('what is refused', () => {
  test('writes of every kind: exception 1, and the register stays', async () => {
    const { image, server } = await still();
    const client = await open(server.port);
    client.setID(1);
    const before = image.read(1, 'holding', 101);
    expect(await codeOf(client.writeRegister(101, 4242))).toBe(1);
    expect(await codeOf(client.writeRegisters(101, [1, 2, 3]))).toBe(1);
    expect(await codeOf(client.writeCoil(1, true))).toBe(1);
    expect(await codeOf(client.writeCoils(1, [true, false, true]))).toBe(1);
    expect(await codeOf(client.readCoils(0, 4))).toBe(1);
    expect(await codeOf(client.readDiscreteInputs(0, 1))).toBe(1);
    expect(image.read(1, 'holding', 101)).toBe(before);
    expect((await client.readHoldingRegisters(101, 1)).data[0]).toBe(before);
  });

  test('an address outside the table: exception 2; inside a gap: 0', async () => {
    const { server } = await still();
    const client = await open(server.port);
    client.setID(1);
    expect(await codeOf(client.readHoldingRegisters(0, 1))).toBe(2);
    expect(await codeOf(client.readHoldingRegisters(148, 8))).toBe(2);
    expect((await client.readHoldingRegisters(108, 2)).data).toEqual([0, 0]);
    client.setID(2);
    expect(await codeOf(client.readHoldingRegisters(100, 1))).toBe(2);
  });

  test('a unit that is not there: exception 11', async () => {
    const { server } = await still();
    const client = await open(server.port);
    client.setID(9);
    expect(await codeOf(client.readHoldingRegisters(100, 1))).toBe(11);
    expect(await codeOf(client.readInputRegisters(0, 10))).toBe(11);
  });
});

describe('lost communication', () => {
  test('silent: the connection is taken and nothing comes; then it answers again on the same port', async () => {
    const { server } = await still();
    await server.communicate('silent');
    const client = await open(server.port, 150);
    client.setID(1);
    expect(await codeOf(client.readHoldingRegisters(100, 2))).toBe('ETIMEDOUT');
    await server.communicate('up');
    const again = await open(server.port);
    again.setID(1);
    expect((await again.readHoldingRegisters(100, 2)).data).toHaveLength(2);
  });

  test('refused: open connections end, new ones are refused; then it listens again on the same port', async () => {
    const { server } = await still();
    const client = await open(server.port);
    const closed = new Promise<void>((resolve) => client.on('close', () => resolve()));
    await server.communicate('refused');
    await closed;
    await expect(connect(server.port)).rejects.toThrow(/ECONNREFUSED/);
    await server.communicate('up');
    const again = await open(server.port);
    again.setID(2);
    expect((await again.readInputRegisters(0, 2)).data).toHaveLength(2);
  });

  test('by the command: a fault from the start', async () => {
    const one = await served('--fault', 'lost_communication:1@0', '--fault', 'nan_value/flash_tank.level:1@0');
    const client = await open(one.port, 150);
    client.setID(1);
    expect(await codeOf(client.readHoldingRegisters(100, 2))).toBe('ETIMEDOUT');
  });

  test('not-a-number and a sentinel on the wire', async () => {
    const one = await served(
      '--fault',
      'nan_value/flash_tank.level:1@0',
      '--fault',
      'sentinel_value/evaporator.pressure:-32768@0',
      '--speed',
      '1000',
    );
    const client = await open(one.port);
    const byName = (name: string) => CH1.points.find((point) => point.name === name)!;
    await expect.poll(() => readPoint(client, byName('flash_tank.level')), { timeout: 20_000 }).toBeNaN();
    expect(await readPoint(client, byName('evaporator.pressure'))).toBeCloseTo(-3276.8, 6);
  });
});

test('an address in use is said, exit 1', async () => {
  const other = createServer();
  await new Promise<void>((resolve) => other.listen(0, '127.0.0.1', resolve));
  ends.push(() => new Promise<void>((resolve) => other.close(() => resolve())));
  const address = other.address();
  const port = typeof address === 'object' && address !== null ? address.port : 0;
  await expect(serve('--modbus', `127.0.0.1:${port}`)).rejects.toThrow(/ended with 1: .*EADDRINUSE/);
});

test("the demo's site file names the same registers, types, units and references as the machine has", () => {
  const text = readFileSync(new URL('../../../config/kestrel-quay.yaml', import.meta.url), 'utf8');
  const site = parse(text) as { chillers: { id: string; points: Record<string, Record<string, unknown>> }[] };
  const points = site.chillers.find(({ id }) => id === 'CH-1')!.points;
  expect(Object.keys(points).sort()).toEqual(CH1.points.map(({ name }) => name).sort());
  for (const point of CH1.points) {
    const written = points[point.name]!;
    const { unitId, table, register, type } = point;
    const address = written['address'] as Record<string, unknown>;
    expect(address, point.name).toMatchObject({ unit: unitId, table, register, type });
    expect(address['order'] ?? (point.order === 'AB' ? 'AB' : 'ABCD'), point.name).toBe(point.order);
    expect(written['scale'] ?? 1, point.name).toBe(point.scale);
    expect(written['offset'] ?? 0, point.name).toBe(point.offset);
    if (point.reference !== null) expect(written['reference'], point.name).toBe(point.reference);
    if (point.unit !== 'state' && point.unit !== 'count') expect(written['unit'], point.name).toBe(point.unit);
  }
});
