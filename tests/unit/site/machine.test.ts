/** Keys of `machine` against each other and against the points mapped: each contradiction refused, with its place. */
import { expect, test } from 'vitest';
import { readSite } from '../../../agent/site/site.ts';

function slips(machine: Record<string, unknown>, points: readonly string[] = []): string[] {
  const point = (name: string, at: number) => [
    name,
    { address: { table: 'holding', register: at * 10 }, unit: name.endsWith('.level') ? '%' : 'kPa' },
  ];
  const result = readSite({
    version: 1,
    site: { id: 'plant-room', name: 'Plant room', time_zone: 'Europe/Oslo', barometer: '100 kPa' },
    chillers: [
      {
        id: 'CH-1',
        machine: { refrigerant: 'R1233zdE', rated_capacity: '900 ton', ...machine },
        source: { modbus: { host: '10.0.0.5' } },
        points: Object.fromEntries(['condenser.pressure', ...points].map(point)),
      },
    ],
  });
  return result.ok ? [] : result.fault.map(({ path, message }) => `${path.slice(2).join(' ')}: ${message}`);
}

test('subcooler and three stages are read with the points that only they have', () => {
  expect(slips({ arrangement: 'subcooler' }, ['economizer.pressure'])).toEqual([]);
  expect(slips({ arrangement: 'interstage', stages: 3 }, ['flash_tank.pressure', 'flash_tank_2.pressure'])).toEqual([]);
});

// An open motor gives its heat to the machinery room's air; liquid refrigerant reaches the windings of a sealed one
// alone (common practice, no source).
test('motor cooling goes with a hermetic main motor, whatever the economizer compressor has', () => {
  const machine = { arrangement: 'parallel', motor_cooling: true };
  expect(slips(machine)).toEqual([]);
  expect(slips({ ...machine, economizer_compressor: { motor: 'open' } })).toEqual([]);
  expect(slips({ ...machine, motor_cooling: false, main_compressor: { motor: 'open' } })).toEqual([]);
});

const VESSEL = { liquid_area: '1.5 m2', level_range: '600 mm' };

test('vessels are read with their levels', () => {
  const levels = ['condenser.level', 'flash_tank.level', 'flash_tank_2.level'];
  const vessels = { condenser: VESSEL, flash_tank: { ...VESSEL, liquid_area: '16 ft2', level_range: '47 in' } };
  const machine = { arrangement: 'interstage', stages: 3, vessels: { ...vessels, flash_tank_2: VESSEL } };
  expect(slips(machine, levels)).toEqual([]);
});

test.each([
  [
    { arrangement: 'parallel', stages: 3 },
    [],
    "machine stages: three stages with two tanks: only with arrangement 'interstage'",
  ],
  [
    { arrangement: 'parallel', vessels: { condenser: VESSEL } },
    [],
    'machine vessels condenser: needs the point condenser.level: map it, or leave this out',
  ],
  [
    { arrangement: 'simple', vessels: { flash_tank: VESSEL } },
    [],
    'machine vessels flash_tank: this machine has none: leave it out',
  ],
  [
    { arrangement: 'parallel', vessels: { flash_tank_2: VESSEL } },
    [],
    'machine vessels flash_tank_2: this machine has none: leave it out',
  ],
  [
    { arrangement: 'parallel', stages: 3 },
    [],
    "machine stages: three stages with two tanks: only with arrangement 'interstage'",
  ],
  [
    { arrangement: 'interstage' },
    ['flash_tank_2.pressure'],
    'points flash_tank_2.pressure: only a machine of three stages has this: set machine or leave it out',
  ],
  [
    { arrangement: 'parallel' },
    ['economizer.pressure'],
    "points economizer.pressure: only the arrangement 'subcooler' has this: set machine or leave it out",
  ],
  [
    { arrangement: 'parallel', efficiency_ratio: { low: 1.04 } },
    [],
    'machine efficiency_ratio low: 1.04 is above high, 1.03: exchange them',
  ],
  [
    { arrangement: 'simple', hot_gas_bypass: { full_share: 0.2 } },
    [],
    'machine hot_gas_bypass: needs the point hot_gas_bypass.position: map it, or leave this out',
  ],
  [
    { arrangement: 'parallel', motor_cooling: true, main_compressor: { motor: 'open' } },
    [],
    'machine motor_cooling: only a hermetic motor is cooled by refrigerant, and ' +
      "main_compressor.motor is 'open': correct one",
  ],
] as const)('%j with points %j is refused', (machine, points, message) => {
  expect(slips(machine, points)).toEqual([message]);
});
