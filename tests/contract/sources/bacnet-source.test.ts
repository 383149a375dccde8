/**
 * The contract of a source over BACnet/IP, against devices of two foreign stacks: every kind of object and number, read
 * by ReadPropertyMultiple, one by one, and with reports of changes.
 */
import { must } from '../../../agent/base/result.ts';
import { bacnetAddress, bacnetSource as settingsSchema } from '../../../agent/site/buses/bacnet.ts';
import { bacnetSource } from '../../../agent/sources/bacnet/source.ts';
import { FakeTime, seeded } from '../../unit/sources/fake-time.ts';
import { BacnetDevice, type Held, type Stack, TAG } from './bacnet-device.ts';
import { type SourceRig, sourceContract } from './source-contract.ts';

interface Mapped {
  readonly name: string;
  readonly object: string;
  readonly held: Held;
  readonly raw: number;
  readonly property?: string;
  readonly fast?: boolean;
  readonly cov?: boolean;
}

const MAP: readonly Mapped[] = [
  { name: 'evaporator.pressure', object: 'analog-input:1', held: { type: TAG.real, value: 348.5 }, raw: 348.5 },
  { name: 'condenser.pressure', object: 'analog-value:1', held: { type: TAG.real, value: -0.25 }, raw: -0.25 },
  {
    name: 'main_compressor.speed',
    object: 'analog-output:9',
    held: { type: TAG.real, value: 9000.125 },
    raw: 9000.125,
  },
  { name: 'unit.running', object: 'binary-input:0', held: { type: TAG.enumerated, value: 1 }, raw: 1 },
  { name: 'main_compressor.running', object: 'binary-value:4194302', held: { type: TAG.enumerated, value: 0 }, raw: 0 },
  { name: 'unit.mode', object: 'multi-state-value:3', held: { type: TAG.unsigned, value: 5 }, raw: 5 },
  {
    name: 'main_compressor.starts',
    object: 'positive-integer-value:2',
    held: { type: TAG.unsigned, value: 70_000 },
    raw: 70_000,
  },
  { name: 'outdoor.temperature', object: 'integer-value:2', held: { type: TAG.signed, value: -12 }, raw: -12 },
  {
    name: 'unit.power',
    object: 'large-analog-value:7',
    held: { type: TAG.double, value: 812.123_456_789 },
    raw: 812.123_456_789,
  },
  {
    name: 'main_compressor.run_hours',
    object: 'binary-output:5',
    property: 'elapsed-active-time',
    held: { type: TAG.unsigned, value: 360_000 },
    raw: 360_000,
  },
  { name: 'chilled_water.flow', object: 'analog-input:20', held: { type: TAG.real, value: 0.5 }, raw: 0.5 },
  { name: 'condenser.level', object: 'analog-input:21', held: { type: TAG.real, value: 50 }, raw: 50, fast: true },
];
const NOT_A_NUMBER = {
  name: 'oil.sump_temperature',
  object: 'analog-input:30',
  held: { type: TAG.real, value: Number.NaN },
};
const REFUSED = { name: 'flash_tank.level', object: 'analog-input:31' };

async function rig(options: { stack: Stack; multiple?: boolean; cov?: boolean }): Promise<SourceRig> {
  const time = new FakeTime();
  const device = new BacnetDevice({ stack: options.stack, host: '127.0.0.2', instance: 2001 });
  device.multiple = options.multiple ?? true;
  const raws = new Map(MAP.map(({ name, raw }) => [name, raw]));
  for (const { object, held, property } of [...MAP, { ...NOT_A_NUMBER, property: undefined }])
    device.putPoint(object, held, property === undefined ? {} : { property });
  await device.listen();
  return {
    time,
    values: () => raws,
    notANumber: NOT_A_NUMBER.name,
    refused: REFUSED.name,
    fast: 'condenser.level',
    ordinary: 'chilled_water.flow',
    set(name, raw) {
      const { object, held } = MAP.find((mapped) => mapped.name === name)!;
      device.putPoint(object, { ...held, value: raw });
      raws.set(name, raw);
    },
    build: () => {
      const settings = settingsSchema.parse({
        ...{ device: 2001, address: device.address, interface: '127.0.0.1', port: 0 },
        ...{ poll_s: 1, fast_s: 0.4, timeout_ms: 500, max_objects: 5 },
      });
      const points = [...MAP, NOT_A_NUMBER, REFUSED].map(({ name, object, ...rest }) => {
        const { property, fast = false } = rest as Partial<Mapped>;
        const cov = options.cov === true && name === 'evaporator.pressure';
        return { name, fast, address: bacnetAddress.parse({ object, property, cov }) };
      });
      const log = { info: () => {}, warn: () => {} };
      return must(
        bacnetSource({ chiller: 'CH-2', settings, points, clock: time, timers: time, random: seeded(7), log }),
      );
    },
    kill: () => device.close(),
    revive: () => device.listen(),
    writes: () => device.writes,
    close: () => device.close(),
  };
}

sourceContract('BACnet/IP (node-bacnet)', () => rig({ stack: 'node-bacnet' }));
sourceContract('BACnet/IP (@bacnet-js/client)', () => rig({ stack: '@bacnet-js/client', cov: true }));
sourceContract('BACnet/IP (one by one)', () => rig({ stack: 'node-bacnet', multiple: false }));
