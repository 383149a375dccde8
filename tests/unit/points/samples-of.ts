/** Points and tables as the tests of this room need them. */
import { type PointSamples, type SampleTable, sampleTable } from '../../../agent/points/samples.ts';
import type { PointSpec, PointValue, Snapshot } from '../../../agent/points/types.ts';

export const T0 = Date.UTC(2026, 6, 1, 12, 0, 0);

export function spec(overrides: Partial<PointSpec> = {}): PointSpec {
  return {
    name: 'evaporator.pressure',
    unit: 'kPa',
    scale: 1,
    offset: 0,
    reference: 'absolute',
    sentinels: [],
    valid: [1, 4000],
    uncertainty: { absolute: 5000, relative: 0 },
    fast: false,
    stale_s: 120,
    frozen_s: 3600,
    ...overrides,
  };
}

/** A table in which `point` was read every `every_s` seconds from T0 on. */
export function tableOf(point: string, raws: readonly (number | null)[], every_s = 5, from = T0): SampleTable {
  const table = sampleTable([point]);
  for (const [index, raw] of raws.entries())
    table.record({ point, time: from + index * every_s * 1000, raw, ...(raw === null ? { reason: 'no reply' } : {}) });
  return table;
}

export function samplesOf(table: SampleTable, from: number, to: number): ReadonlyMap<string, PointSamples> {
  return table.interval(from, to);
}

/** A snapshot of good points, SI values with u of a thousandth. */
export function snapshotOf(time: number, values: Readonly<Record<string, number | null>>): Snapshot {
  const points: Record<string, PointValue> = {};
  for (const [name, value] of Object.entries(values)) {
    points[name] =
      value === null
        ? { value, u: null, quality: 'bad', reason: 'never read', age_s: null, spread: null, n: 0 }
        : { value, u: Math.abs(value) * 1e-4, quality: 'good', reason: null, age_s: 1, spread: 0, n: 12 };
  }
  return { time, points };
}
