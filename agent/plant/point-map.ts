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

export interface PlantPoint {
  readonly name: string;
  readonly unitId: number;
  readonly table: RegisterTable;
  /** Zero-based, as on the wire. */
  readonly register: number;
  readonly type: RegisterType;
  readonly order: ByteOrder;
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
  return {
    name: point.name,
    unit_id: point.unitId,
    table: point.table,
    register: point.register,
    type: point.type,
    order: point.order,
    scale: point.scale,
    offset: point.offset,
    unit: point.unit,
    reference: point.reference,
    span: point.span,
    uncertainty: stated,
    uncertainty_kind: uncertainty.kind,
  };
}
