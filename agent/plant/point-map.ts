/**
 * The shape of a controller's point map: where each sensor's value stands on the bus, and the truth about the sensor.
 */
import { differenceFromSi, differenceToSi, type UnitName } from '../base/units.ts';

export type RegisterTable = 'holding' | 'input';
export type RegisterType = 'int16' | 'uint16' | 'uint32' | 'float32';
/** Order of the bytes on the wire: one register AB; two registers high word first ABCD, low word first CDAB. */
export type ByteOrder = 'AB' | 'ABCD' | 'CDAB';
/** What a pressure transmitter counts from: vacuum, the local barometer, a sealed standard atmosphere. */
export type PlantPressureReference = 'absolute' | 'vented_gauge' | 'sealed_gauge';

/** Standard uncertainty, k = 1: the standard deviation from which the sensor's offset is drawn. */
export type StatedUncertainty =
  | { readonly kind: 'absolute'; readonly value: number; readonly unit: UnitName }
  | { readonly kind: 'relative'; readonly value: number }
  | { readonly kind: 'none' };

interface Point {
  readonly name: string;
  readonly type: RegisterType;
  /** value = raw * scale + offset, in `unit`. */
  readonly scale: number;
  readonly offset: number;
  readonly unit: UnitName;
  /** Pressures only. */
  readonly reference: PlantPressureReference | null;
  /** Lower and upper end of the transmitter, in `unit`; pressures only. */
  readonly span: readonly [number, number] | null;
  readonly uncertainty: StatedUncertainty;
  /** First-order lag, s. */
  readonly lag: number;
  /**
   * Standard deviation of one sample, in the terms of `uncertainty` (absolute: in the unit of its value; relative: of
   * the value).
   */
  readonly noise: number;
  /** Step of the converter, in `unit`; integers step by `scale` in any case. 0: none. */
  readonly resolution: number;
}

export interface ModbusPoint extends Point {
  readonly bus: 'modbus';
  readonly unitId: number;
  readonly table: RegisterTable;
  /** Zero-based, as on the wire. */
  readonly register: number;
  readonly order: ByteOrder;
}

/** Kinds of objects that the plant's controller has, and their numbers: ASHRAE 135 clause 21, from memory. */
export const OBJECT_KINDS = {
  'analog-input': 0,
  'analog-value': 2,
  'binary-input': 3,
  'binary-value': 5,
  'multi-state-input': 13,
  'multi-state-value': 19,
} as const;
export type ObjectKind = keyof typeof OBJECT_KINDS;

/** What a BACnet object says of itself beside its value. */
export interface BacnetObject {
  readonly kind: ObjectKind;
  readonly instance: number;
  readonly objectName: string;
  readonly description: string;
  /** Change that is reported to subscribers, in the point's unit; analog objects only. */
  readonly covIncrement: number;
  /** Names of the states, from 1; multi-state objects only. */
  readonly states: readonly string[];
}

/** Read from the present value of its object. */
export interface BacnetPoint extends Point {
  readonly bus: 'bacnet';
  readonly object: BacnetObject;
}

export type PlantPoint = ModbusPoint | BacnetPoint;

/** Standard uncertainty in the point's own unit at `value`. */
export function standardUncertainty(point: PlantPoint, value: number): number {
  const { uncertainty } = point;
  if (uncertainty.kind === 'none') return 0;
  if (uncertainty.kind === 'relative') return Math.abs(value) * uncertainty.value;
  return differenceFromSi(differenceToSi(uncertainty.value, uncertainty.unit), point.unit);
}

export function registersOf(type: RegisterType): number {
  return type === 'uint32' || type === 'float32' ? 2 : 1;
}

/** One line of `--points`. */
export function describePoint(point: PlantPoint): Record<string, unknown> {
  const { uncertainty } = point;
  let stated: string | null = null;
  if (uncertainty.kind === 'relative') stated = `${Number((uncertainty.value * 100).toPrecision(6))} %`;
  if (uncertainty.kind === 'absolute') stated = `${uncertainty.value} ${uncertainty.unit}`;
  const { name, scale, offset, unit, reference, span } = point;
  const place =
    point.bus === 'modbus'
      ? { unit_id: point.unitId, table: point.table, register: point.register, type: point.type, order: point.order }
      : {
          object: `${point.object.kind}:${point.object.instance}`,
          property: 'present-value',
          object_name: point.object.objectName,
          description: point.object.description,
        };
  return {
    name,
    ...place,
    scale,
    offset,
    unit,
    reference,
    span,
    uncertainty: stated,
    uncertainty_kind: uncertainty.kind,
  };
}
