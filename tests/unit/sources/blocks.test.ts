/** Merging and taking apart on cases small enough to see. */
import { expect, test } from 'vitest';
import type { ModbusAddress, ModbusType } from '../../../agent/site/buses/modbus.ts';
import { type MappedPoint, planBlocks, splitBlock } from '../../../agent/sources/modbus/blocks.ts';

function register(at: number, type: ModbusType = 'uint16', bit?: number): MappedPoint {
  const address = { unit: 1, table: 'holding', register: at, type, order: 'ABCD' } as const;
  return { name: `${at} ${type} ${bit}`, address: bit === undefined ? address : { ...address, bit } };
}

function coil(at: number): MappedPoint {
  const address: ModbusAddress = { unit: 1, table: 'coil', register: at };
  return { name: `coil ${at}`, address };
}

const run = (length: number, of: (at: number) => MappedPoint): MappedPoint[] => Array.from({ length }, (_, i) => of(i));
const shape = (points: MappedPoint[], most = 125): number[][] =>
  planBlocks(points, most).map((block) => [block.register, block.count]);

test('a run of registers is cut at the limit, not a register later or earlier', () => {
  expect(shape(run(125, register))).toEqual([[0, 125]]);
  expect(shape(run(126, register))).toEqual([
    [0, 125],
    [125, 1],
  ]);
  expect(shape(run(20, register), 8)).toEqual([
    [0, 8],
    [8, 8],
    [16, 4],
  ]);
});

test('a value of two registers that would stand across the limit opens the next block', () => {
  const points = [...run(7, register), register(7, 'float32'), register(9)];
  expect(shape(points, 8)).toEqual([
    [0, 7],
    [7, 3],
  ]);
});

test('a run of coils is cut at 2000, and at 16 for each register the device answers', () => {
  // every eighth coil: 250 of them reach to coil 1992, the next would make 2001
  expect(shape(run(300, (i) => coil(8 * i)))).toEqual([
    [0, 1993],
    [2000, 393],
  ]);
  expect(shape(run(70, coil), 4)).toEqual([
    [0, 64],
    [64, 6],
  ]);
});

test('a gap of 16 registers is fetched, one of 17 is not; 256 coils likewise', () => {
  expect(shape([register(0), register(17)])).toEqual([[0, 18]]);
  expect(shape([register(0), register(18)])).toEqual([
    [0, 1],
    [18, 1],
  ]);
  expect(shape([coil(0), coil(257)])).toEqual([[0, 258]]);
  expect(shape([coil(0), coil(258)]).length).toBe(2);
});

test('points of one register go together and cannot be taken apart', () => {
  const bits = [register(5, 'uint16', 0), register(5, 'uint16', 1), register(5)];
  const [block, ...others] = planBlocks(bits, 125);
  expect(others).toEqual([]);
  expect(splitBlock(block!)).toBeNull();
});

test('halves are of like size and without the gap between them', () => {
  const [block] = planBlocks([register(0), register(1), register(10), register(11)], 125);
  expect(splitBlock(block!)!.map(({ register: first, count }) => [first, count])).toEqual([
    [0, 2],
    [10, 2],
  ]);
});
