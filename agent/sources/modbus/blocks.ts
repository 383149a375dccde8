/**
 * Merges the addresses of points into few reads, and takes a read apart again where the controller refuses one address
 * of it.
 */
import { LIMITS } from '../../base/limits.ts';
import type { ModbusAddress } from '../../site/buses/modbus.ts';
import { span } from './decode.ts';
import type { ModbusTable } from './pdu.ts';

export interface MappedPoint {
  readonly name: string;
  readonly address: ModbusAddress;
}

/**
 * One read: `count` addresses from `register` on one unit and table, and the points they carry, in order of address.
 */
export interface Block {
  readonly unit: number;
  readonly table: ModbusTable;
  readonly register: number;
  readonly count: number;
  readonly points: readonly MappedPoint[];
}

function blockOf(points: readonly MappedPoint[]): Block {
  const { unit, table } = (points[0] as MappedPoint).address;
  let register = Number.POSITIVE_INFINITY;
  let end = 0;
  for (const { address } of points) {
    const { first, count } = span(address);
    register = Math.min(register, first);
    end = Math.max(end, first + count);
  }
  return { unit, table, register, count: end - register, points };
}

function inOrder(a: MappedPoint, b: MappedPoint): number {
  return a.address.register - b.address.register || span(a.address).count - span(b.address).count;
}

/**
 * Blocks that carry each point exactly once. A block never exceeds what one request may ask or the controller answers,
 * never reaches beyond the first or last address of its points, and skips gaps longer than it is worth fetching. A
 * value is never divided between blocks.
 */
export function planBlocks(points: readonly MappedPoint[], maxRegisters: number): Block[] {
  const groups = new Map<string, MappedPoint[]>();
  for (const point of points) {
    const key = `${point.address.unit} ${point.address.table}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [point]);
    else group.push(point);
  }
  return [...groups.values()].flatMap((group) => planTable(group.sort(inOrder), maxRegisters));
}

function planTable(points: readonly MappedPoint[], maxRegisters: number): Block[] {
  const { table } = (points[0] as MappedPoint).address;
  const bits = table === 'coil' || table === 'discrete';
  const most = bits
    ? Math.min(LIMITS.modbus_bits_per_request_max, 16 * maxRegisters)
    : Math.min(LIMITS.modbus_registers_per_request_max, maxRegisters);
  const gapMost = bits ? LIMITS.modbus_gap_bits_max : LIMITS.modbus_gap_registers_max;
  const blocks: Block[] = [];
  let open: MappedPoint[] = [];
  let first = 0;
  let end = 0;
  for (const point of points) {
    const at = span(point.address);
    const newEnd = Math.max(end, at.first + at.count);
    if (open.length > 0 && (at.first - end > gapMost || newEnd - first > most)) {
      blocks.push(blockOf(open));
      open = [];
    }
    if (open.length === 0) {
      first = at.first;
      end = at.first + at.count;
    } else {
      end = newEnd;
    }
    open.push(point);
  }
  blocks.push(blockOf(open));
  return blocks;
}

/**
 * Two halves of a block, by its points; null where all its points stand on the same addresses, so that there is nothing
 * to take apart.
 */
export function splitBlock(block: Block): readonly [Block, Block] | null {
  const { points } = block;
  const middle = points.length / 2;
  let cut = 0;
  for (let i = 1; i < points.length; i += 1) {
    const before = span((points[i - 1] as MappedPoint).address);
    const here = span((points[i] as MappedPoint).address);
    const different = before.first !== here.first || before.count !== here.count;
    if (different && (cut === 0 || Math.abs(i - middle) < Math.abs(cut - middle))) cut = i;
  }
  return cut === 0 ? null : [blockOf(points.slice(0, cut)), blockOf(points.slice(cut))];
}
