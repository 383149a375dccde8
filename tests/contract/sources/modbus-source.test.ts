/**
 * The contract of a source over Modbus TCP, against modbus-serial's server: three units, four tables, every type and
 * order.
 */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { type ModbusAddress, modbusSource as settingsSchema } from '../../../agent/site/buses/modbus.ts';
import { ModbusLines } from '../../../agent/sources/modbus/line.ts';
import { type ModbusSourceOptions, modbusSource } from '../../../agent/sources/modbus/source.ts';
import { FakeTime, seeded } from '../../unit/sources/fake-time.ts';
import { ForeignDevice, words } from './foreign-device.ts';
import { drive, Keeper, type SourceRig, sourceContract } from './source-contract.ts';

type Mapped = ModbusSourceOptions['points'][number] & { readonly raw: number };

const big = { order: 'ABCD' } as const;
const float = (value: number): number[] => words((buffer) => buffer.writeFloatBE(value), 4);
const swapped = (word: number): number => ((word & 0xff) << 8) | (word >> 8);

/** A point of a device, and the words that make its raw value. */
const MAP: readonly (Mapped & { readonly words: readonly number[] })[] = [
  point('evaporator.pressure', { unit: 1, table: 'input', register: 0, type: 'uint16', ...big }, 3456, [3456]),
  point('condenser.liquid_temperature', { unit: 1, table: 'input', register: 1, type: 'int16', ...big }, -123, [-123]),
  point('unit.power', { unit: 1, table: 'input', register: 10, type: 'float32', ...big }, 812.5, float(812.5)),
  point(
    'condenser.pressure',
    { unit: 1, table: 'input', register: 12, type: 'float32', order: 'CDAB' },
    -0.25,
    float(-0.25).reverse(),
  ),
  point(
    'oil.sump_temperature',
    { unit: 1, table: 'input', register: 14, type: 'float32', order: 'BADC' },
    55.5,
    float(55.5).map(swapped),
  ),
  point(
    'main_compressor.speed',
    { unit: 1, table: 'input', register: 16, type: 'float32', order: 'DCBA' },
    9000.125,
    float(9000.125).reverse().map(swapped),
  ),
  point(
    'main_compressor.run_hours',
    { unit: 1, table: 'holding', register: 300, type: 'uint32', ...big },
    0x0001_86a0,
    [1, 0x86a0],
  ),
  point(
    'main_compressor.starts',
    { unit: 1, table: 'holding', register: 302, type: 'int32', order: 'CDAB' },
    -2,
    [0xfffe, 0xffff],
  ),
  point(
    'purge.run_time',
    { unit: 1, table: 'holding', register: 304, type: 'float64', ...big },
    1234.000_001,
    words((b) => b.writeDoubleBE(1234.000_001), 8),
  ),
  point('unit.running', { unit: 1, table: 'discrete', register: 9 }, 1, [1]),
  point('main_compressor.running', { unit: 1, table: 'coil', register: 3 }, 0, [0]),
  point(
    'economizer_compressor.running',
    { unit: 1, table: 'holding', register: 20, type: 'uint16', bit: 13, ...big },
    1,
    [0x2000],
  ),
  point('chilled_water.flow', { unit: 2, table: 'holding', register: 0, type: 'uint16', ...big }, 999, [999]),
  point('condenser_water.flow', { unit: 3, table: 'holding', register: 0, type: 'uint16', ...big }, 111, [111]),
  point('condenser.level', { unit: 1, table: 'input', register: 40, type: 'uint16', ...big }, 500, [500], true),
];
const NOT_A_NUMBER = point(
  'outdoor.temperature',
  { unit: 1, table: 'input', register: 18, type: 'float32', ...big },
  0,
  float(Number.NaN),
);
const REFUSED = point('flash_tank.level', { unit: 1, table: 'input', register: 20, type: 'uint16', ...big }, 0, []);

function point(
  name: string,
  address: ModbusAddress,
  raw: number,
  held: readonly number[],
  fast = false,
): (typeof MAP)[number] {
  return { name, address, raw, words: held, fast };
}

async function rig(): Promise<SourceRig> {
  const time = new FakeTime();
  const device = new ForeignDevice([1, 2, 3]);
  const raws = new Map(MAP.map(({ name, raw }) => [name, raw]));
  for (const { address, words: held } of [...MAP, NOT_A_NUMBER, REFUSED]) device.put({ ...address, words: held });
  await device.listen();
  return {
    time,
    values: () => raws,
    notANumber: NOT_A_NUMBER.name,
    refused: REFUSED.name,
    fast: 'condenser.level',
    ordinary: 'chilled_water.flow',
    set(name, raw) {
      const { address } = MAP.find((mapped) => mapped.name === name)!;
      device.put({ ...address, words: [raw] });
      raws.set(name, raw);
    },
    build: () => {
      const settings = settingsSchema.parse({ host: '127.0.0.1', port: device.port, poll_s: 1, fast_s: 0.4 });
      const log = { info: () => {}, warn: () => {} };
      const points = [...MAP, NOT_A_NUMBER, REFUSED].map(({ name, address, fast }) => ({ name, address, fast }));
      return must(
        modbusSource({ chiller: 'CH-1', settings, points, clock: time, timers: time, random: seeded(7), log }),
      );
    },
    kill: () => device.close(),
    revive: () => device.listen(),
    writes: () => device.writes,
    close: () => device.close(),
  };
}

sourceContract('Modbus TCP', rig);

test('two chillers behind one gateway share one connection, each with its own unit; the end of one does not touch the other', async () => {
  const time = new FakeTime();
  const device = new ForeignDevice([1, 2]);
  device.put({ unit: 1, table: 'holding', register: 0, words: [1001] });
  device.put({ unit: 2, table: 'holding', register: 0, words: [2002] });
  await device.listen();
  const random = seeded(3);
  const line = new ModbusLines({ clock: time, timers: time, random }).at({ host: '127.0.0.1', port: device.port });
  const settings = settingsSchema.parse({ host: '127.0.0.1', port: device.port, poll_s: 1, fast_s: 1 });
  const build = (chiller: string, unit: number) => {
    const address: ModbusAddress = { unit, table: 'holding', register: 0, type: 'uint16', order: 'ABCD' };
    const points = [{ name: 'unit.power', address, fast: false }];
    const log = { info: () => {}, warn: () => {} };
    return must(modbusSource({ chiller, settings, points, clock: time, timers: time, random, log, line }));
  };
  const sources = [build('CH-1', 1), build('CH-2', 2), build('CH-3', 9)] as const;
  const sinks = [new Keeper(), new Keeper(), new Keeper()] as const;
  for (const [i, source] of sources.entries()) await source.start(sinks[i]!);
  await drive(time, () => sinks.every((sink) => sink.samples.length >= 5));
  expect(new Set(sinks[0].samples.map(({ raw }) => raw))).toEqual(new Set([1001]));
  expect(new Set(sinks[1].samples.map(({ raw }) => raw))).toEqual(new Set([2002]));
  expect(
    sinks[2].samples.every(
      ({ raw, reason }) => raw === null && reason === 'exception 11: gateway target failed to respond',
    ),
  ).toBe(true);
  expect(line.counters().connections).toBe(1);
  await sources[0].stop();
  const [before] = [sinks[1].samples.length];
  await drive(time, () => sinks[1].samples.length >= before + 3);
  expect(line.counters().connections).toBe(1);
  expect(sinks[1].samples.every(({ raw }) => raw === 2002)).toBe(true);
  await sources[1].stop();
  await sources[2].stop();
  await device.close();
});
