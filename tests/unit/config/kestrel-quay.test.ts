/**
 * Goal: the example site says of each controller exactly what the controller is. Method: the site file as the agent
 * reads it, beside the point map as the emulated plant prints it, field by field. Only a test may see both.
 */
import { describe, expect, test } from 'vitest';
import { differenceToSi, STANDARD_ATMOSPHERE, toSi, type UnitName } from '../../../agent/base/units.ts';
import { openSite } from '../../../agent/config/load.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import { describePoint } from '../../../agent/plant/point-map.ts';
import type { SitePoint } from '../../../agent/site/points.ts';
import type { ChillerSite } from '../../../agent/site/site.ts';

const FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

interface Printed {
  readonly name: string;
  readonly unit_id?: number;
  readonly table?: string;
  readonly register?: number;
  readonly type?: string;
  readonly order?: string;
  readonly object?: string;
  readonly property?: string;
  readonly scale: number;
  readonly offset: number;
  readonly unit: UnitName;
  readonly reference: string | null;
  readonly span: readonly [number, number] | null;
  readonly uncertainty: string | null;
  readonly uncertainty_kind: 'absolute' | 'relative' | 'none';
}

const opened = await openSite(FILE, { env: {} });
const site = opened.ok ? opened.value.site : null;
const MACHINES = [CH1, CH2].map((plant, index) => ({
  plant,
  chiller: site?.chillers[index] as ChillerSite,
  printed: plant.points.map((point) => describePoint(point) as unknown as Printed),
}));

test('the file is good and holds the machines of the scenario', () => {
  expect(opened.ok ? [] : opened.fault).toEqual([]);
  expect(site?.chillers.map(({ id }) => id)).toEqual([CH1.name, CH2.name]);
  const [one, two] = site?.chillers.map(({ machine }) => machine) ?? [];
  expect(one).toMatchObject({ refrigerant: CH1.machine.refrigerant, arrangement: 'parallel' });
  expect(one?.main_compressor.drive_efficiency).toBe(CH1.machine.mainCompressor.drive.efficiency);
  expect(one?.economizer_compressor.drive_efficiency).toBe(CH1.machine.economizerCompressor.drive.efficiency);
  expect(one?.rated_suction_flow).toBe(CH1.machine.mainCompressor.designFlow);
  expect(two).toMatchObject({ refrigerant: CH2.machine.refrigerant, arrangement: 'interstage' });
  expect(two?.main_compressor.drive_efficiency).toBe(CH2.machine.firstStage.drive.efficiency);
  expect(two?.rated_suction_flow).toBe(CH2.machine.firstStage.designFlow);
});

describe.each(MACHINES)('$plant.name', ({ plant, chiller, printed }) => {
  const mapped = new Map(chiller.points.map((point) => [point.name, point]));
  const sensors = printed.map((truth) => [truth.name, truth] as const);

  test('rated as it is', () => {
    expect(chiller.machine.rated_capacity).toBeCloseTo(toSi(plant.world.ratedTons, 'ton'), 3);
  });

  test('every point of the controller is mapped, and no other', () => {
    // The state of the vapour line is the controller's own, not a sensor of the plant's map.
    const own = plant.name === 'CH-2' ? ['economizer.running'] : [];
    expect([...mapped.keys()].sort()).toEqual([...new Set([...printed.map(({ name }) => name), ...own])].sort());
  });

  test.each(sensors)('%s stands where the controller has it and is decoded as it sends it', (name, truth) => {
    const point = mapped.get(name) as SitePoint;
    if (truth.object !== undefined)
      expect(point.address).toMatchObject({ object: truth.object, property: truth.property });
    else
      expect(point.address).toMatchObject({
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

  test.each(sensors)('%s carries the uncertainty of its sensor', (name, truth) => {
    const point = mapped.get(name) as SitePoint;
    const [value = 0, unit = ''] = (truth.uncertainty ?? '')
      .split(' ')
      .map((part, index) => (index === 0 ? Number(part) : part)) as [number, UnitName];
    const absolute = truth.uncertainty_kind === 'absolute' ? differenceToSi(value, unit as UnitName) : 0;
    const relative = truth.uncertainty_kind === 'relative' ? value / 100 : 0;
    const barometer = point.reference === 'vented_gauge' ? (site?.barometer_uncertainty ?? 0) : 0;
    expect(point.uncertainty.absolute).toBeCloseTo(Math.hypot(absolute, barometer), 9);
    expect(point.uncertainty.relative).toBeCloseTo(relative, 12);
    if (truth.span !== null)
      expect(point.span).toBeCloseTo(differenceToSi(truth.span[1] - truth.span[0], truth.unit), 6);
  });
});

test('the barometer of the site is the plant mean within its stated uncertainty', () => {
  if (site === null) throw new Error('not read');
  expect(Math.abs(site.barometer - STANDARD_ATMOSPHERE)).toBeLessThan(site.barometer_uncertainty);
});
