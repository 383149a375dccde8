/** What the source refuses to be built from, a socket that cannot be bound, and when its points are asked for. */
import { createSocket } from 'node:dgram';
import { describe, expect, test } from 'vitest';
import { bacnetAddress, bacnetSource as settingsSchema } from '../../../../agent/site/buses/bacnet.ts';
import { objectsFitting } from '../../../../agent/sources/bacnet/reader.ts';
import { readingOf } from '../../../../agent/sources/bacnet/samples.ts';
import { bacnetSource } from '../../../../agent/sources/bacnet/source.ts';
import { FakeTime, seeded } from '../fake-time.ts';

const log = { info: () => {}, warn: () => {} };

function build(points: readonly string[], settings: object = {}) {
  const time = new FakeTime();
  const checked = settingsSchema.parse({
    device: 7,
    address: '127.0.0.2',
    interface: '127.0.0.1',
    port: 0,
    ...settings,
  });
  const address = bacnetAddress.parse({ object: 'analog-input:1' });
  const mapped = points.map((name) => ({ name, address, fast: false }));
  const means = { clock: time, timers: time, random: seeded(1), log };
  return { time, result: bacnetSource({ chiller: 'CH-2', settings: checked, points: mapped, ...means }) };
}

describe('validates without the network', () => {
  test.each([
    [[], 'CH-2: no point has a BACnet address; map at least one'],
    [['unit.power', 'unit.power'], 'CH-2: point unit.power is mapped twice; keep one'],
    [Array.from({ length: 201 }, (_, i) => `point.${i}`), 'CH-2: 201 points, at most 200'],
  ])('%j', (points, message) => {
    expect(build(points).result).toEqual({ ok: false, fault: { code: 'source_settings', message } });
  });
});

test('a port that another program holds: start rejects with its name, and works when it is free', async () => {
  const other = createSocket('udp4');
  await new Promise<void>((resolve) => other.bind(0, '127.0.0.1', resolve));
  const { port } = other.address();
  const { time, result } = build(['unit.power'], { port });
  if (!result.ok) throw new Error(result.fault.message);
  const sink = { record: () => {} };
  await expect(result.value.start(sink)).rejects.toThrow(`UDP port ${port} of 127.0.0.1 cannot be bound: EADDRINUSE`);
  expect(time.waiting).toBe(0);
  await new Promise<void>((resolve) => other.close(() => resolve()));
  await result.value.start(sink);
  expect(result.value.status().state).toBe('connecting');
  await result.value.stop();
  expect(time.waiting).toBe(0);
});

test.each([
  [{ maxApdu: 50, segmentation: 'none' }, 1],
  [{ maxApdu: 206, segmentation: 'none' }, 5],
  [{ maxApdu: 480, segmentation: 'receive' }, 12],
  [{ maxApdu: 1476, segmentation: 'none' }, 38],
  [{ maxApdu: 480, segmentation: 'transmit' }, 29],
  [{ maxApdu: 1476, segmentation: 'both' }, 91],
] as const)('objects of 38 bytes in a request to %j: %i', (device, objects) => {
  expect(objectsFitting(device, 38)).toBe(objects);
});

describe('a reading that is no number', () => {
  const ok = (
    ...values: Parameters<typeof readingOf>[0] extends readonly (infer A)[]
      ? A extends { ok: true; values: infer V }
        ? V
        : never
      : never
  ) => ({ ok: true, values }) as const;
  test.each([
    [[{ type: 'unsigned', value: null }], 'a number beyond 2^53'],
    [[{ type: 'null' }], 'not a number but of type null'],
    [[], 'no value'],
    [
      [
        { type: 'unsigned', value: 1 },
        { type: 'unsigned', value: 2 },
      ],
      '2 values in place of one',
    ],
    [[{ type: 'real', value: Number.POSITIVE_INFINITY }], 'not a number'],
    [[{ type: 'other' }], 'not a number but of type other'],
  ] as const)('%j', (values, reason) => {
    expect(readingOf([ok(...values)])).toEqual({ raw: null, reason });
  });
  test('booleans count as 0 and 1; flags that are not told leave a doubt', () => {
    expect(readingOf([ok({ type: 'boolean', value: true })])).toEqual({ raw: 1 });
    const secret = { ok: false, reason: 'error read-access-denied (property)', unknownProperty: false } as const;
    expect(readingOf([ok({ type: 'unsigned', value: 1 }), secret])).toEqual({
      raw: 1,
      doubt: 'status flags not read: error read-access-denied (property)',
    });
    expect(readingOf([ok({ type: 'unsigned', value: 1 }), ok({ type: 'bits', value: [false] })])).toEqual({
      raw: 1,
      doubt: 'status flags are not four bits',
    });
  });
});
