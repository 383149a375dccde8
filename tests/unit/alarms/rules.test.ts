/** Goal: a limit in a gauge unit counts from where the transmitter it watches counts from. */
import { describe, expect, test } from 'vitest';
import type { AlarmRule } from '../../../agent/alarms/rules.ts';
import { readSite } from '../../../agent/site/site.ts';

// Barometer of a site at some 1000 m. Standard atmosphere 101.325 kPa: ISO 2533:1975; psi = 6.894757 kPa: NIST SP 811.
const BAROMETER_KPA = 90;
const PSI_KPA = 6.894757;
const SEALED_KPA = 101.325;

function compiled(alarm: object, entry: object): AlarmRule {
  const result = readSite({
    version: 1,
    site: { id: 'plant-room', name: 'Plant room', time_zone: 'UTC', barometer: `${BAROMETER_KPA} kPa` },
    chillers: [
      {
        id: 'CH-1',
        machine: { refrigerant: 'R134a', arrangement: 'parallel', rated_capacity: '1500 ton' },
        source: { modbus: { host: '10.0.0.5' } },
        points: {
          'unit.running': { address: { table: 'coil', register: 0 } },
          'condenser.pressure': { address: { table: 'holding', register: 1 }, ...entry },
        },
        alarms: [{ id: 'head-pressure', title: 'Head pressure', watch: 'condenser.pressure', ...alarm }],
      },
    ],
  });
  if (!result.ok) throw new Error(JSON.stringify(result.fault));
  return result.value.chillers[0]?.alarms[0] as AlarmRule;
}

describe('a limit of 140 psig', () => {
  test.each([
    ['vented_gauge', 'psig', BAROMETER_KPA],
    ['sealed_gauge', 'psig', SEALED_KPA],
    ['absolute', 'kPa', BAROMETER_KPA],
    ['converted', 'kPa', BAROMETER_KPA],
  ])('on a point that is %s', (reference, unit, zero) => {
    const { limit } = compiled({ above: '140 psig' }, { unit, reference });
    expect(limit).toBeCloseTo(140 * PSI_KPA + zero, 2);
  });
  test('below as well as above', () => {
    const { limit, side } = compiled({ below: '20 psig' }, { unit: 'psig', reference: 'sealed_gauge' });
    expect(side).toBe('below');
    expect(limit).toBeCloseTo(20 * PSI_KPA + SEALED_KPA, 2);
  });
});

test('an absolute limit and a deadband have no zero', () => {
  const entry = { unit: 'psig', reference: 'sealed_gauge' };
  const { limit, deadband } = compiled({ above: '1000 kPa', deadband: '20 kPa' }, entry);
  expect([limit, deadband]).toEqual([1000, 20]);
});
