/** Reads merged from random point maps: nothing lost, nothing twice, no limit broken, nothing fetched for nothing. */
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import type { ModbusAddress, ModbusType } from '../../../agent/site/buses/modbus.ts';
import { type Block, type MappedPoint, planBlocks, splitBlock } from '../../../agent/sources/modbus/blocks.ts';
import { encodeRead, refusal } from '../../../agent/sources/modbus/pdu.ts';

/** Addresses each type takes, by its width: 16 bits to a register. */
const WIDTH: Record<ModbusType, number> = { uint16: 1, int16: 1, uint32: 2, int32: 2, float32: 2, float64: 4 };
const widthOf = (address: ModbusAddress): number => ('type' in address ? WIDTH[address.type] : 1);

const dense = fc.integer({ min: 0, max: 400 });
const anywhere = fc.integer({ min: 0, max: 65_532 });
const register = fc.oneof({ weight: 4, arbitrary: dense }, { weight: 1, arbitrary: anywhere });
const unit = fc.integer({ min: 1, max: 3 });
const address: fc.Arbitrary<ModbusAddress> = fc.oneof(
  fc.record({
    unit,
    table: fc.constantFrom('input' as const, 'holding' as const),
    register,
    type: fc.constantFrom<ModbusType>('uint16', 'int16', 'uint32', 'int32', 'float32', 'float64'),
    order: fc.constant('ABCD' as const),
  }),
  fc.record({ unit, table: fc.constantFrom('coil' as const, 'discrete' as const), register }),
);
const map = fc
  .array(address, { minLength: 1, maxLength: 120 })
  .map((addresses) => addresses.map((one, i): MappedPoint => ({ name: `point ${i}`, address: one })));
const maxRegisters = fc.integer({ min: 4, max: 125 });

function isBits(block: Block): boolean {
  return block.table === 'coil' || block.table === 'discrete';
}

function checkBlock(block: Block, most: number): void {
  expect(refusal(encodeRead(block))).toBeNull();
  expect(block.count).toBeLessThanOrEqual(isBits(block) ? Math.min(2000, 16 * most) : Math.min(125, most));
  const wanted = new Set<number>();
  for (const { address } of block.points) {
    expect(address).toMatchObject({ unit: block.unit, table: block.table });
    // the whole value, never a part of it
    expect(address.register).toBeGreaterThanOrEqual(block.register);
    expect(address.register + widthOf(address)).toBeLessThanOrEqual(block.register + block.count);
    for (let i = 0; i < widthOf(address); i += 1) wanted.add(address.register + i);
  }
  // begins and ends with something wanted, and no gap within is longer than the limit
  expect(wanted.has(block.register)).toBe(true);
  expect(wanted.has(block.register + block.count - 1)).toBe(true);
  const gapMost = isBits(block) ? LIMITS.modbus_gap_bits_max : LIMITS.modbus_gap_registers_max;
  let gap = 0;
  for (let at = block.register; at < block.register + block.count; at += 1) {
    gap = wanted.has(at) ? 0 : gap + 1;
    expect(gap).toBeLessThanOrEqual(gapMost);
  }
}

test('every point in exactly one block, limits kept, no fetch beyond', () => {
  fc.assert(
    fc.property(map, maxRegisters, (points, most) => {
      const blocks = planBlocks(points, most);
      const names = blocks.flatMap((block) => block.points.map((point) => point.name));
      expect(names.sort()).toEqual(points.map((point) => point.name).sort());
      for (const block of blocks) checkBlock(block, most);
    }),
    { numRuns: 500 },
  );
});

test('few blocks: two neighbours that fit one request and stand close together are never apart', () => {
  fc.assert(
    fc.property(map, maxRegisters, (points, most) => {
      const blocks = planBlocks(points, most);
      for (const a of blocks) {
        for (const b of blocks) {
          if (a === b || a.unit !== b.unit || a.table !== b.table || b.register < a.register) continue;
          const first = b.points[0]!.address;
          const end = Math.max(a.register + a.count, first.register + widthOf(first));
          const fits = end - a.register <= (isBits(a) ? Math.min(2000, 16 * most) : most);
          const gap = first.register - (a.register + a.count);
          const gapMost = isBits(a) ? LIMITS.modbus_gap_bits_max : LIMITS.modbus_gap_registers_max;
          expect(fits && gap <= gapMost).toBe(false);
        }
      }
    }),
  );
});

test('the order of the point map does not matter', () => {
  fc.assert(
    fc.property(map, maxRegisters, fc.infiniteStream(fc.nat()), (points, most, stream) => {
      const shape = (blocks: Block[]): string[] =>
        blocks.map((b) => `${b.unit} ${b.table} ${b.register} ${b.count}`).sort();
      const keys = new Map(points.map((point) => [point, stream.next().value as number]));
      const shuffled = [...points].sort((a, b) => keys.get(a)! - keys.get(b)!);
      expect(shape(planBlocks(shuffled, most))).toEqual(shape(planBlocks(points, most)));
    }),
  );
});

test('taking blocks apart until it ends: every point still once, every part within its limits, parts of one address span', () => {
  fc.assert(
    fc.property(map, maxRegisters, (points, most) => {
      const todo = planBlocks(points, most);
      const ends: Block[] = [];
      for (let block = todo.pop(); block !== undefined; block = todo.pop()) {
        const halves = splitBlock(block);
        if (halves === null) ends.push(block);
        else todo.push(...halves);
      }
      const names = ends.flatMap((block) => block.points.map((point) => point.name));
      expect(names.sort()).toEqual(points.map((point) => point.name).sort());
      for (const block of ends) {
        checkBlock(block, most);
        for (const { address } of block.points)
          expect([address.register, widthOf(address)]).toEqual([block.register, block.count]);
      }
    }),
  );
});
