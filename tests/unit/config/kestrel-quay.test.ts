/**
 * Goal: the example site says of CH-1's controller exactly what the controller is. Method: the site file as the agent
 * reads it, beside the point map as the emulated plant prints it, field by field. Only a test may see both.
 */
import { describe, expect, test } from 'vitest';
import { differenceToSi, STANDARD_ATMOSPHERE, toSi, type UnitName } from '../../../agent/base/units.ts';
import { openSite } from '../../../agent/config/load.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { describePoint } from '../../../agent/plant/point-map.ts';
import type { SitePoint } from '../../../agent/site/points.ts';

const FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

interface Printed {
  readonly name: string;
  readonly unit_id: number;
  readonly table: string;
  readonly register: number;
  readonly type: string;
  readonly order: string;
  readonly scale: number;
  readonly offset: number;
  readonly unit: UnitName;
  readonly reference: string | null;
  readonly span: readonly [number, number] | null;
  readonly uncertainty: string | null;
  readonly uncertainty_kind: 'absolute' | 'relative' | 'none';
}

const opened = await openSite(FILE, { env: {} });
const chiller = opened.ok ? opened.value.site.chillers[0] : undefined;
const mapped = new Map(chiller?.points.map((point) => [point.name, point]));
const printed = CH1.points.map((point) => describePoint(point) as unknown as Printed);

test('the file is good and holds the machine of the scenario', () => {
  expect(opened.ok ? [] : opened.fault).toEqual([]);
  expect(chiller?.id).toBe(CH1.name);
  expect(chiller?.machine).toMatchObject({ refrigerant: CH1.machine.refrigerant, arrangement: 'parallel' });
  expect(chiller?.machine.rated_capacity).toBeCloseTo(toSi(CH1.world.ratedTons, 'ton'), 3);
  expect(chiller?.machine.main_compressor.drive_efficiency).toBe(CH1.machine.mainCompressor.drive.efficiency);
  expect(chiller?.machine.economizer_compressor.drive_efficiency).toBe(
    CH1.machine.economizerCompressor.drive.efficiency,
  );
  expect(chiller?.machine.rated_suction_flow).toBe(CH1.machine.mainCompressor.designFlow);
});

test('every point of the controller is mapped, and no other', () => {
  expect([...mapped.keys()].sort()).toEqual(printed.map(({ name }) => name).sort());
});

describe.each(printed)('$name', (truth) => {
  const point = mapped.get(truth.name) as SitePoint;

  test('stands where the controller has it and is decoded as it sends it', () => {
    const { address } = point;
    expect(address).toMatchObject({
      unit: truth.unit_id,
      table: truth.table,
      register: truth.register,
      type: truth.type,
      // One register has one order; the plant calls it AB.
      order: truth.order === 'AB' ? 'ABCD' : truth.order,
    });
    expect(point).toMatchObject({ unit: truth.unit, scale: truth.scale, offset: truth.offset });
    if (truth.reference !== null) expect(point.reference).toBe(truth.reference);
  });

  test('carries the uncertainty of its sensor', () => {
    const [value = 0, unit = ''] = (truth.uncertainty ?? '')
      .split(' ')
      .map((part, index) => (index === 0 ? Number(part) : part)) as [number, UnitName];
    const absolute = truth.uncertainty_kind === 'absolute' ? differenceToSi(value, unit as UnitName) : 0;
    const relative = truth.uncertainty_kind === 'relative' ? value / 100 : 0;
    const barometer = point.reference === 'vented_gauge' && opened.ok ? opened.value.site.barometer_uncertainty : 0;
    expect(point.uncertainty.absolute).toBeCloseTo(Math.hypot(absolute, barometer), 9);
    expect(point.uncertainty.relative).toBeCloseTo(relative, 12);
    if (truth.span !== null)
      expect(point.span).toBeCloseTo(differenceToSi(truth.span[1] - truth.span[0], truth.unit), 6);
  });
});

test('the barometer of the site is the plant mean within its stated uncertainty', () => {
  if (!opened.ok) throw new Error('not read');
  expect(Math.abs(opened.value.site.barometer - STANDARD_ATMOSPHERE)).toBeLessThan(
    opened.value.site.barometer_uncertainty,
  );
});
