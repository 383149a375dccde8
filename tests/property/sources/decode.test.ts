/**
 * Types and byte orders against Node's own Buffer methods: a value is written by them, its bytes are laid out by hand
 * as the order's name says, and must decode to the value. The worked layouts are those of the order's names: ABCD is
 * most significant byte first.
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  MODBUS_ORDERS,
  type ModbusAddress,
  type ModbusOrder,
  type ModbusType,
} from '../../../agent/site/buses/modbus.ts';
import { decode, span } from '../../../agent/sources/modbus/decode.ts';

/** Bytes most significant first, to the wire: by words and bytes as the names of the orders spell them. */
function onWire(big: Buffer, order: ModbusOrder): Buffer {
  const words: Buffer[] = [];
  for (let i = 0; i < big.length; i += 2) words.push(Buffer.from(big.subarray(i, i + 2)));
  if (order === 'CDAB' || order === 'DCBA') words.reverse();
  if (order === 'BADC' || order === 'DCBA') for (const word of words) word.swap16();
  return Buffer.concat(words);
}

const writers: Record<ModbusType, (value: number) => Buffer> = {
  uint16: (value) => written((b) => b.writeUInt16BE(value), 2),
  int16: (value) => written((b) => b.writeInt16BE(value), 2),
  uint32: (value) => written((b) => b.writeUInt32BE(value), 4),
  int32: (value) => written((b) => b.writeInt32BE(value), 4),
  float32: (value) => written((b) => b.writeFloatBE(value), 4),
  float64: (value) => written((b) => b.writeDoubleBE(value), 8),
};

function written(write: (buffer: Buffer) => void, bytes: number): Buffer {
  const buffer = Buffer.alloc(bytes);
  write(buffer);
  return buffer;
}

const values: Record<ModbusType, fc.Arbitrary<number>> = {
  uint16: fc.integer({ min: 0, max: 0xffff }),
  int16: fc.integer({ min: -0x8000, max: 0x7fff }),
  uint32: fc.integer({ min: 0, max: 0xffff_ffff }),
  int32: fc.integer({ min: -0x8000_0000, max: 0x7fff_ffff }),
  float32: fc.float({ noNaN: true, noDefaultInfinity: true }),
  float64: fc.double({ noNaN: true, noDefaultInfinity: true }),
};

const types = Object.keys(values) as ModbusType[];

describe('what Buffer writes, decode reads', () => {
  test.each(types.flatMap((type) => MODBUS_ORDERS.map((order) => [type, order] as const)))('%s %s', (type, order) => {
    fc.assert(
      fc.property(
        values[type],
        fc.integer({ min: 0, max: 20 }),
        fc.uint8Array({ minLength: 60, maxLength: 60 }),
        (value, gap, noise) => {
          const data = Buffer.from(noise);
          onWire(writers[type](value), order).copy(data, 2 * gap);
          const address: ModbusAddress = { unit: 1, table: 'input', register: 1000 + gap, type, order };
          expect(decode(address, data, 1000)).toBe(value);
          expect(2 * span(address).count).toBe(writers[type](value).length);
        },
      ),
      { numRuns: 300 },
    );
  });
});

test('the four orders of 123456.0 as a float32, bytes worked by hand (IEEE 754: 0x47F12000)', () => {
  const wires: [ModbusOrder, number[]][] = [
    ['ABCD', [0x47, 0xf1, 0x20, 0x00]],
    ['CDAB', [0x20, 0x00, 0x47, 0xf1]],
    ['BADC', [0xf1, 0x47, 0x00, 0x20]],
    ['DCBA', [0x00, 0x20, 0xf1, 0x47]],
  ];
  for (const [order, bytes] of wires) {
    expect(decode({ unit: 1, table: 'holding', register: 5, type: 'float32', order }, Uint8Array.from(bytes), 5)).toBe(
      123_456,
    );
  }
});

test('every bit of a register, 0 the least significant, in both byte orders', () => {
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 0xffff }), fc.integer({ min: 0, max: 15 }), (value, bit) => {
      for (const order of MODBUS_ORDERS) {
        const address = { unit: 1, table: 'input', register: 0, type: 'uint16', order, bit } as const;
        expect(decode(address, onWire(writers.uint16(value), order), 0)).toBe(
          Number(value.toString(2).padStart(16, '0')[15 - bit]),
        );
      }
    }),
  );
});

test('coils and discrete inputs: the addressed bit of the reply, first bit lowest (Application Protocol V1.1b3, 6.1 example CD 6B 05)', () => {
  // the standard's example: coils 20 to 38 (addresses 19 to 37); 27 to 20 are ON-ON-OFF-OFF-ON-ON-OFF-ON
  const data = Uint8Array.of(0xcd, 0x6b, 0x05);
  const coil = (number: number): number | null => decode({ unit: 1, table: 'coil', register: number - 1 }, data, 19);
  expect([27, 26, 25, 24, 23, 22, 21, 20].map(coil)).toEqual([1, 1, 0, 0, 1, 1, 0, 1]);
  expect([35, 34, 33, 32, 31, 30, 29, 28].map(coil)).toEqual([0, 1, 1, 0, 1, 0, 1, 1]);
  expect([38, 37, 36].map(coil)).toEqual([1, 0, 1]);
});

test('floats that are no number are null in every order, by every bit pattern of that kind', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 0, max: 0x7f_ffff }),
      fc.boolean(),
      fc.constantFrom(...MODBUS_ORDERS),
      (mantissa, negative, order) => {
        const big = written((b) => b.writeUInt32BE(((negative ? 0xff80_0000 : 0x7f80_0000) | mantissa) >>> 0), 4);
        expect(
          decode({ unit: 1, table: 'input', register: 0, type: 'float32', order }, onWire(big, order), 0),
        ).toBeNull();
        const wide = Buffer.concat([Buffer.from([negative ? 0xff : 0x7f, 0xf0]), big.subarray(2), Buffer.alloc(4)]);
        expect(
          decode({ unit: 1, table: 'input', register: 0, type: 'float64', order }, onWire(wide, order), 0),
        ).toBeNull();
      },
    ),
  );
});
