/** The plant's BACnet/IP device as other stacks see it. Numbers: ASHRAE 135 clause 21, by the readers' own tables. */
import { afterEach, describe, expect, test } from 'vitest';
import { broadcastOf } from '../../../agent/plant/bacnet/server.ts';
import { CH2_POINTS, MODES } from '../../../agent/plant/kestrel-quay/ch2-points.ts';
import { bareSocket, exchange, type ForeignClient, foreignClient, foreignTable, olderClient } from './bacnet-client.ts';
import { DEVICE, endAll, ends, idOf, pointOf, property, readOne, still } from './bacnet-still.ts';
import { serveBacnet } from './client.ts';

afterEach(endAll);

test('every point is what its sensor shows, by two stacks; with name, unit, description and sound flags', async () => {
  const { plant, client, to } = await still();
  const older = await olderClient('127.0.0.32');
  ends.push(() => older.close());
  const UNITS = foreignTable('@bacnet-js/client', 'EngineeringUnits');
  const unitNames: Record<string, string> = {
    degF: 'DEGREES_FAHRENHEIT',
    gpm: 'US_GALLONS_PER_MINUTE',
    delta_psi: 'POUNDS_FORCE_PER_SQUARE_INCH',
    psia: 'POUNDS_FORCE_PER_SQUARE_INCH',
    psig: 'POUNDS_FORCE_PER_SQUARE_INCH',
    inHg_vac: 'INCHES_OF_MERCURY',
    '%': 'PERCENT',
    rpm: 'REVOLUTIONS_PER_MINUTE',
    kW: 'KILOWATTS',
    A: 'AMPERES',
    h: 'HOURS',
    count: 'NO_UNITS',
  };
  for (const point of CH2_POINTS) {
    const { published } = plant.sensors.get(point.name)!;
    const id = idOf(point);
    const found = (await readOne(client, to, id, 'PRESENT_VALUE')) as number;
    expect(Math.abs(found - published), point.name).toBeLessThanOrEqual(1e-6 * Math.abs(published));
    expect((await older.read(to.address, id, property('PRESENT_VALUE')))[0]!.value, point.name).toBe(found);
    expect(await readOne(client, to, id, 'OBJECT_NAME')).toBe(point.object.objectName);
    expect(await readOne(client, to, id, 'DESCRIPTION')).toBe(point.object.description);
    expect(await readOne(client, to, id, 'STATUS_FLAGS')).toMatchObject({ bitsUsed: 4, value: [0] });
    expect(await readOne(client, to, id, 'OUT_OF_SERVICE')).toBe(false);
    expect(await readOne(client, to, id, 'RELIABILITY')).toBe(0);
    if (point.object.kind.startsWith('analog'))
      expect(await readOne(client, to, id, 'UNITS'), point.name).toBe(UNITS[unitNames[point.unit]!]);
  }
});

test('the operating mode names its states, whole and one by one', async () => {
  const { client, to } = await still();
  const id = idOf(pointOf('unit.operating_mode'));
  const { values } = await client.readProperty(to, id, property('STATE_TEXT'));
  expect(values.map(({ value }) => value)).toEqual([...MODES]);
  const one = await client.readProperty(to, id, property('STATE_TEXT'), { arrayIndex: 3 });
  expect(one.values[0]!.value).toBe('Running');
  const count = await client.readProperty(to, id, property('STATE_TEXT'), { arrayIndex: 0 });
  expect(count.values[0]!.value).toBe(MODES.length);
  expect(await readOne(client, to, id, 'NUMBER_OF_STATES')).toBe(MODES.length);
});

test('the device lists its objects, and itself under the number that stands for any', async () => {
  const { client, to } = await still();
  const { values } = await client.readProperty(to, { ...DEVICE, instance: 4_194_303 }, property('OBJECT_LIST'));
  expect(values.map(({ value }) => value)).toEqual([DEVICE, ...CH2_POINTS.map(idOf)]);
  expect(await readOne(client, to, DEVICE, 'OBJECT_NAME')).toBe('CH-2');
  expect(await readOne(client, to, DEVICE, 'PROTOCOL_VERSION')).toBe(1);
});

test('many properties in one request; ALL, REQUIRED and OPTIONAL; what is not there is an error of its own', async () => {
  const { client, to } = await still();
  const id = idOf(pointOf('evaporator.pressure'));
  const ids = async (which: string) => {
    const { values } = await client.readPropertyMultiple(to, [{ objectId: id, properties: [{ id: property(which) }] }]);
    return values[0]!.values.map((one) => one.id);
  };
  const [all, required, optional] = [await ids('ALL'), await ids('REQUIRED'), await ids('OPTIONAL')];
  // Clause 12.2: the required properties of an analog input.
  const names = ['OBJECT_IDENTIFIER', 'OBJECT_NAME', 'OBJECT_TYPE', 'PRESENT_VALUE', 'STATUS_FLAGS', 'EVENT_STATE'];
  expect([...required].sort()).toEqual([...names, 'OUT_OF_SERVICE', 'UNITS'].map(property).sort());
  expect([...required, ...optional].sort()).toEqual([...all].sort());
  const { values } = await client.readPropertyMultiple(to, [
    { objectId: id, properties: [{ id: property('PRESENT_VALUE') }, { id: property('STATE_TEXT') }] },
    { objectId: { type: 0, instance: 999 }, properties: [{ id: property('PRESENT_VALUE') }] },
  ]);
  expect(typeof values[0]!.values[0]!.value[0]!.value).toBe('number');
  expect(values[0]!.values[1]!.value[0]!.value).toMatchObject({ errorClass: 2, errorCode: 32 });
  expect(values[1]!.values[0]!.value[0]!.value).toMatchObject({ errorClass: 1, errorCode: 31 });
});

test('a reply too long for one datagram comes in segments, whole', async () => {
  const { client, to } = await still();
  const asked = CH2_POINTS.map((point) => ({ objectId: idOf(point), properties: [{ id: property('ALL') }] }));
  const { values } = await client.readPropertyMultiple(to, asked);
  expect(values.map(({ objectId }) => objectId)).toEqual(asked.map(({ objectId }) => objectId));
  const names = values.map(
    ({ values: found }) => found.find(({ id }) => id === property('OBJECT_NAME'))!.value[0]!.value,
  );
  expect(names).toEqual(CH2_POINTS.map(({ object }) => object.objectName));
  // The smallest messages of the standard, 50 octets.
  const small = await client.readProperty(to, DEVICE, property('OBJECT_LIST'), { maxApdu: 0 });
  expect(small.values).toHaveLength(CH2_POINTS.length + 1);
});

test('nothing can be written or set going', async () => {
  const { client, to, table } = await still();
  const id = idOf(pointOf('condenser.level_setpoint'));
  const before = table.monitored(id.type, id.instance);
  await expect(
    client.writeProperty(to, id, property('PRESENT_VALUE'), [{ type: 4, value: 99 }], { priority: 8 }),
  ).rejects.toThrow(/Class:2.*Code:40/);
  await expect(client.reinitializeDevice(to, 0, { password: '' })).rejects.toThrow(/Reason:9/);
  expect(table.monitored(id.type, id.instance)).toEqual(before);
});

describe('Who-Is', () => {
  async function found(client: ForeignClient, ask: () => void): Promise<{ deviceId: number; segmentation: number }> {
    const heard = new Promise<unknown>((resolve) => client.on('iAm', resolve));
    ask();
    return ((await heard) as { payload: { deviceId: number; segmentation: number } }).payload;
  }

  test('directed', async () => {
    const { client, to } = await still();
    expect(await found(client, () => client.whoIs(to))).toMatchObject({ deviceId: 2002, segmentation: 1 });
  });

  test("by the network's broadcast address", async () => {
    const { client, server } = await still();
    expect(broadcastOf('127.0.0.21')).toBe('127.255.255.255');
    const ask = () => client.whoIs({ address: `127.255.255.255:${server.port}` });
    expect(await found(client, ask)).toMatchObject({ deviceId: 2002 });
  });

  test('limits that leave it out are not answered', async () => {
    const { client, to } = await still();
    const heard: unknown[] = [];
    client.on('iAm', (message) => heard.push(message));
    client.whoIs(to, { lowLimit: 1, highLimit: 2001 });
    // Answered in order: when the read is back, an answer to the first would be too.
    await readOne(client, to, DEVICE, 'OBJECT_NAME');
    expect(heard).toEqual([]);
    client.whoIs(to, { lowLimit: 2002, highLimit: 2002 });
    await expect.poll(() => heard.length).toBe(1);
  });
});

test('a reader behind a router is answered by the way it came', async () => {
  const { server } = await still();
  const socket = await bareSocket('127.0.0.33');
  ends.push(() => new Promise<void>((resolve) => socket.close(() => resolve())));
  // Network 5, station 9; ReadProperty of the device's object name, as Annex F.3.5 lays it out (from memory).
  const request = [0x81, 0x0a, 0, 22, 1, 0x0c, 0, 5, 1, 9, 0x00, 0x05, 33, 12, 0x0c, 0x02, 0x00, 0x07, 0xd2, 0x19, 77];
  const data = Buffer.from(request);
  data.writeUInt16BE(data.length, 2);
  const reply = await exchange(socket, data, server);
  expect([...reply.subarray(4, 14)]).toEqual([1, 0x20, 0, 5, 1, 9, 0xff, 0x30, 33, 12]);
  expect(reply.includes(Buffer.from('CH-2'))).toBe(true);
});

test('silence and absence by the plant fault, then it answers again at the same place', async () => {
  const { server, client, to } = await still();
  const impatient = await foreignClient('127.0.0.34', 200);
  ends.push(() => impatient.close());
  for (const lost of ['silent', 'refused'] as const) {
    await server.communicate(lost);
    await expect(readOne(impatient, to, DEVICE, 'OBJECT_NAME')).rejects.toThrow(/TIMEOUT/);
    await server.communicate('up');
    expect(await readOne(client, to, DEVICE, 'OBJECT_NAME')).toBe('CH-2');
  }
});

test('by the command: faults of objects and moving values; it ends when stopped', async () => {
  const faults = [
    'object_fault/condenser.pressure:1@0',
    'out_of_service/flash_tank.temperature:1@0',
    'nan_value/flash_tank.level:1@0',
    'sentinel_value/outdoor.temperature:-999@0',
  ].flatMap((fault) => ['--fault', fault]);
  const one = await serveBacnet('--bacnet', '127.0.0.22:0', '--speed', '2000', ...faults);
  ends.push(() => one.stop());
  const client = await foreignClient('127.0.0.35');
  ends.push(() => client.close());
  const to = { address: `${one.host}:${one.port}` };
  const read = (name: string, what: string) => readOne(client, to, idOf(pointOf(name)), what);
  await expect.poll(() => read('flash_tank.level', 'PRESENT_VALUE'), { timeout: 20_000 }).toBeNaN();
  expect(await read('condenser.pressure', 'RELIABILITY')).toBe(1);
  expect(await read('condenser.pressure', 'STATUS_FLAGS')).toMatchObject({ value: [0b0010] });
  expect(await read('flash_tank.temperature', 'STATUS_FLAGS')).toMatchObject({ value: [0b1000] });
  expect(await read('flash_tank.temperature', 'OUT_OF_SERVICE')).toBe(true);
  expect(await read('outdoor.temperature', 'PRESENT_VALUE')).toBe(-999);
  const frozen = await read('flash_tank.temperature', 'PRESENT_VALUE');
  const power = await read('unit.power', 'PRESENT_VALUE');
  await expect.poll(() => read('unit.power', 'PRESENT_VALUE'), { timeout: 20_000 }).not.toBe(power);
  expect(await read('flash_tank.temperature', 'PRESENT_VALUE')).toBe(frozen);
  expect(await one.stop()).toBe(0);
});

test('an address that is not of this machine or in use is said, exit 1', async () => {
  const { server } = await still();
  await expect(serveBacnet('--bacnet', `127.0.0.21:${server.port}`)).rejects.toThrow(/ended with 1: .*EADDRINUSE/);
  await expect(serveBacnet('--bacnet', '192.0.2.1:0')).rejects.toThrow(/ended with 1: .*EADDRNOTAVAIL/);
});
