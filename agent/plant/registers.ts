/**
 * The register image of a controller: what stands at which unit, table and address. Nobody but the plant can change it.
 */
import { assert } from '../base/result.ts';
import { type ModbusPoint, type PlantPoint, type RegisterTable, registersOf } from './point-map.ts';
import type { Sensor } from './sensor.ts';

interface Table {
  low: number;
  high: number;
  readonly values: Map<number, number>;
}

export class RegisterImage {
  /** By unit and table. */
  private readonly tables = new Map<string, Table>();
  private readonly units = new Set<number>();
  private readonly bytes = new DataView(new ArrayBuffer(4));

  constructor(points: readonly PlantPoint[]) {
    for (const point of points) {
      if (point.bus !== 'modbus') continue;
      const table = this.table(point);
      for (let i = 0; i < registersOf(point.type); i++) {
        const address = point.register + i;
        assert(!table.values.has(address), `${point.name} has register ${address} for itself`);
        table.values.set(address, 0);
        table.low = Math.min(table.low, address);
        table.high = Math.max(table.high, address);
      }
      this.units.add(point.unitId);
    }
  }

  private table(point: ModbusPoint): Table {
    const key = `${point.unitId}/${point.table}`;
    let table = this.tables.get(key);
    if (table === undefined) {
      table = { low: Number.POSITIVE_INFINITY, high: -1, values: new Map() };
      this.tables.set(key, table);
    }
    return table;
  }

  hasUnit(unitId: number): boolean {
    return this.units.has(unitId);
  }

  /**
   * The 16 bits at an address, unsigned; undefined outside the table. Gaps inside its range read 0, as on most
   * controllers.
   */
  read(unitId: number, table: RegisterTable, address: number): number | undefined {
    const found = this.tables.get(`${unitId}/${table}`);
    if (found === undefined || address < found.low || address > found.high) return undefined;
    return found.values.get(address) ?? 0;
  }

  update(sensors: Iterable<Sensor>): void {
    for (const { point, raw } of sensors) if (point.bus === 'modbus') this.write(point, raw);
  }

  private write(point: ModbusPoint, raw: number): void {
    const { values } = this.table(point);
    const { register, type, order } = point;
    if (type === 'int16' || type === 'uint16') {
      // Masked: the server library turns negative numbers into a device failure.
      values.set(register, raw & 0xffff);
      return;
    }
    if (type === 'float32') this.bytes.setFloat32(0, raw);
    else this.bytes.setUint32(0, raw);
    const high = this.bytes.getUint16(0);
    const low = this.bytes.getUint16(2);
    values.set(register, order === 'CDAB' ? low : high);
    values.set(register + 1, order === 'CDAB' ? high : low);
  }
}
