/**
 * The economizer against figures computed with CoolProp 8.0.0 from the same published equations: to the digits given.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { type Design, design } from '../../../agent/cycle/design.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { CAPACITY, SET_B, solved, value } from '../../unit/cycle/given.ts';

const REFERENCE = {
  refrigerant: 'R134a',
  arrangement: 'parallel',
  evaporator: { T: 278.15 },
  tanks: [{ T: 293.15 }],
  condenser: { T: 310.15, subcooling: 4 },
  compressors: [{ isentropic_efficiency: 0.83 }, { isentropic_efficiency: 0.74 }],
  capacity: CAPACITY,
};
const reference = (subcooling: number): Design => must(design({ ...REFERENCE, condenser: { T: 310.15, subcooling } }));

describe('R-134a, 5/20/37 degC, 4 K subcooling, efficiencies 0.83 and 0.74, 1500 tons', () => {
  const found = reference(4);
  const metric = (name: string) => found.metrics[name] as number;

  test('flash fractions 0.10207 and 0.10638, direct expansion 0.20191', () => {
    expect(metric('flash_tank.flash_fraction')).toBeCloseTo(0.10207, 5);
    expect(metric('evaporator.flash_fraction')).toBeCloseTo(0.10638, 5);
    expect(metric('evaporator.flash_fraction_without_economizer')).toBeCloseTo(0.20191, 5);
  });

  test('747.4 and 47.5 kW', () => {
    expect(metric('main_compressor.power')).toBeCloseTo(747.4, 1);
    expect(metric('economizer_compressor.power')).toBeCloseTo(47.5, 1);
    expect(metric('unit.power')).toBeCloseTo(found.power / 1e3, 9);
  });

  test('saving 5.02 %, 836.9 kW without economizer, bounds 2.2 and 7.9 %', () => {
    expect(100 * metric('economizer.saving_fraction')).toBeCloseTo(5.02, 2);
    expect(metric('unit.power') + metric('economizer.power_saved')).toBeCloseTo(836.9, 1);
    expect(100 * metric('economizer.saving_fraction_low')).toBeCloseTo(2.2, 1);
    expect(100 * metric('economizer.saving_fraction_high')).toBeCloseTo(7.9, 1);
  });

  test('condenser solved anew, water entering at 85 degF: 5.21 %', () => {
    const water = 302.594;
    const anew = must(design({ ...REFERENCE, condenser_water: { entering_temperature: water } })).metrics;
    expect(100 * (anew['economizer.saving_fraction_resolved'] as number)).toBeCloseTo(5.21, 2);
    expect(anew['economizer.saving_fraction']).toBe(metric('economizer.saving_fraction'));
    // the same by a machine without economizer, calculated as one at the temperature found: Q_c0/Q_c is what grew
    const T = (anew['economizer.condensing_temperature_without'] as number) + 273.15;
    const { arrangement: _, tanks: __, compressors, ...simple } = REFERENCE;
    const without = must(
      design({
        ...simple,
        arrangement: 'simple',
        condenser: { T, subcooling: 4 },
        compressors: compressors.slice(0, 1),
      }),
    );
    expect(1 - found.power / without.power).toBeCloseTo(anew['economizer.saving_fraction_resolved'] as number, 7);
    expect((T - water) / (310.15 - water)).toBeCloseTo((CAPACITY + without.power) / (CAPACITY + found.power), 7);
  });

  test('the machine without economizer, calculated as one, takes those 836.9 kW', () => {
    const without = must(
      design({
        refrigerant: 'R134a',
        arrangement: 'simple',
        evaporator: { T: 278.15 },
        condenser: { T: 310.15, subcooling: 4 },
        compressors: [{ isentropic_efficiency: 0.83 }],
        capacity: CAPACITY,
      }),
    );
    expect(without.power / 1e3).toBeCloseTo(836.9, 1);
    expect(1 - found.power / without.power).toBeCloseTo(metric('economizer.saving_fraction'), 9);
    expect(without.metrics['main_compressor.suction_volume_flow']).toBeCloseTo(
      metric('economizer.suction_volume_flow_without'),
      9,
    );
  });

  test('without subcooling: 0.13433, 64.8 kW; the difference is what subcooling avoids', () => {
    const saturated = reference(0);
    expect(saturated.metrics['flash_tank.flash_fraction']).toBeCloseTo(0.13433, 5);
    expect(saturated.metrics['economizer_compressor.power']).toBeCloseTo(64.8, 1);
    expect(metric('flash_tank.flash_fraction_without_subcooling')).toBeCloseTo(0.13433, 5);
    expect(metric('subcooling.economizer_power_avoided')).toBeCloseTo(64.8 - 47.5, 1);
  });

  test('the same from points', () => {
    const solution = solved(SET_B);
    expect(value(solution, 'flash_tank.flash_fraction')).toBeCloseTo(0.10207, 5);
    expect(value(solution, 'evaporator.flash_fraction')).toBeCloseTo(0.10638, 5);
    expect(100 * value(solution, 'economizer.saving_fraction')).toBeCloseTo(5.02, 2);
    expect(solution.ghost['6']?.q).toBeCloseTo(0.20191, 5);
  });
});

/**
 * Fluid, evaporator and condenser degC, COP of one stage, gain in % by the parallel economizer compressor, flash
 * fraction, its share of power in %.
 */
const TABLE = [
  ['R134a', 5, 30, 7.811, 5.8, 0.1005, 5.3],
  ['R134a', 5, 37, 5.846, 8.0, 0.134, 7.1],
  ['R134a', 5, 45, 4.419, 11.2, 0.176, 9.6],
  ['R123', 5, 37, 6.211, 5.9, 0.101, 5.4],
  ['R1233zdE', 5, 37, 6.169, 6.2, 0.105, 5.6],
  ['R1234zeE', 5, 37, 5.824, 8.5, 0.139, 7.5],
  ['R22', 5, 37, 5.867, 6.6, 0.115, 6.0],
  ['R11', 5, 37, 6.335, 4.7, 0.082, 4.4],
  ['R134a', -10, 40, 3.224, 13.9, 0.208, 11.6],
] as const;

/** The table's tenths were rounded from hundredths (5.747, 5.75, 5.8). */
const ROUNDED = 0.0551;

describe('parallel economizer compressor, efficiency 0.8, tank at the geometric mean pressure, no subcooling', () => {
  test.each(TABLE)('%s at %d and %d degC', (name, evaporator, condenser, cop, gain, flash, share) => {
    const fluid = must(refrigerant(name));
    const ends = [evaporator, condenser].map((t) => must(fluid.saturationPressure(t + 273.15))) as [number, number];
    const half = { isentropic_efficiency: 0.8 };
    const common = { refrigerant: name, evaporator: { p: ends[0] }, condenser: { p: ends[1] }, flow: 1 };
    const one = must(design({ ...common, arrangement: 'simple', compressors: [half] }));
    const tanks = [{ p: Math.sqrt(ends[0] * ends[1]) }];
    const two = must(design({ ...common, arrangement: 'parallel', tanks, compressors: [half, half] }));
    expect(one.cop).toBeCloseTo(cop, 3);
    expect(Math.abs(100 * (two.cop / one.cop - 1) - gain)).toBeLessThan(ROUNDED);
    expect(two.metrics['flash_tank.flash_fraction']).toBeCloseTo(flash, flash === 0.1005 ? 4 : 3);
    expect(Math.abs(100 * (two.metrics['economizer_compressor.power_share'] as number) - share)).toBeLessThan(ROUNDED);
    // saving of power is the gain of COP seen from the other side
    expect(two.metrics['economizer.saving_fraction']).toBeCloseTo(1 - one.cop / two.cop, 9);
  });
});
