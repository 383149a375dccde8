/**
 * What each set of points gives and how well, at the condition of the reference figures with default sensor
 * uncertainties: 95 % half widths of an independent Monte Carlo with CoolProp. Spans of its pressure transmitters are
 * not recorded (here 1000, 1000 and 1600 kPa), hence an order check: within a quarter.
 */
import { describe, expect, test } from 'vitest';
import type { Solution } from '../../../agent/cycle/types.ts';
import {
  ECONOMIZER_DISCHARGE,
  good,
  machine,
  SET_A,
  SET_B,
  SET_C,
  SET_CD,
  SET_D,
  solved,
  uncertainty,
  value,
} from '../../unit/cycle/given.ts';

const near = (found: number, printed: number) => {
  expect(found / printed, `${found} against ${printed}`).toBeLessThan(1.25);
  expect(found / printed, `${found} against ${printed}`).toBeGreaterThan(1 / 1.25);
};
const share = (solution: Solution, name: string) => uncertainty(solution, name) / value(solution, name);

/**
 * What the Monte Carlo did not draw: no doubt about drives or dry suction. The assumed economizer efficiency is 0.74
 * with sigma 0.05, the default.
 */
const parameters = machine({
  suction_superheat_uncertainty: '0 K',
  economizer_compressor: { drive_efficiency: 1, assumed_isentropic_efficiency: 0.74 },
});
const solve = (points: typeof SET_A) => solved(points, parameters);

describe('figures', () => {
  test('A: lift to 1 K', () => near(uncertainty(solve(SET_A), 'main_compressor.lift'), 1));

  test('B: flash fraction to 0.007', () => near(uncertainty(solve(SET_B), 'flash_tank.flash_fraction'), 0.007));

  test('C: flows to 6.5 %, share to 1.2 points (0.9 with T8), efficiency to 6 points, saving to 0.8 points', () => {
    const found = solve(SET_C);
    near(share(found, 'evaporator.mass_flow'), 0.065);
    near(uncertainty(found, 'economizer_compressor.power_share'), 0.012);
    near(uncertainty(found, 'main_compressor.isentropic_efficiency'), 0.06);
    const more = solve({ ...SET_C, 'economizer_compressor.discharge_temperature': good(ECONOMIZER_DISCHARGE, 0.7) });
    near(uncertainty(more, 'economizer_compressor.power_share'), 0.009);
    expect(value(more, 'economizer_compressor.power_share')).toBeCloseTo(0.06, 3);
    near(uncertainty(more, 'economizer.saving_fraction'), 0.008);
  });

  test('D with an insertion meter (3 %): efficiency to 7 points, saving to 1.0 points', () => {
    const flow = SET_D['chilled_water.flow']?.value as number;
    const found = solve({ ...SET_D, 'chilled_water.flow': good(flow, 0.03 * flow) });
    near(uncertainty(found, 'main_compressor.isentropic_efficiency'), 0.07);
    near(uncertainty(found, 'economizer.saving_fraction'), 0.01);
  });

  test('the values are those of the condition, from every set', () => {
    for (const points of [SET_C, SET_D, SET_CD]) {
      const found = solve(points);
      expect(value(found, 'unit.capacity') / 5275.28).toBeCloseTo(1, 2);
      expect(value(found, 'main_compressor.isentropic_efficiency')).toBeCloseTo(0.83, 2);
      expect(value(found, 'economizer.saving_fraction')).toBeCloseTo(0.0502, 3);
      expect(value(found, 'economizer_compressor.power')).toBeCloseTo(47.5, 0);
    }
  });
});

describe('what each set cannot give is named', () => {
  const FLOWS = ['evaporator.mass_flow', 'unit.capacity', 'unit.kw_per_ton', 'unit.cop', 'economizer.power_saved'];
  const FLASH = ['flash_tank.flash_fraction', 'evaporator.flash_fraction', 'economizer.saving_fraction'];
  const LIFTS = [
    'main_compressor.lift',
    'condenser.approach',
    'main_compressor.pressure_ratio',
    'main_compressor.isentropic_head',
  ];

  test('A: lifts, no flash fractions, no flows', () => {
    const { unobservable, metrics } = solve(SET_A);
    expect(unobservable).toEqual(expect.arrayContaining([...FLOWS, ...FLASH]));
    for (const name of LIFTS) expect(unobservable).not.toContain(name);
    for (const name of unobservable) expect(metrics[name]?.value, name).toBeNull();
  });

  test('B: flash fractions too, no flows', () => {
    const { unobservable } = solve(SET_B);
    expect(unobservable).toEqual(expect.arrayContaining(FLOWS));
    for (const name of [...FLASH, ...LIFTS]) expect(unobservable).not.toContain(name);
  });

  test('C, D: flows', () => {
    for (const points of [SET_C, SET_D]) {
      const { unobservable } = solve(points);
      for (const name of [...FLASH, ...FLOWS, ...LIFTS]) expect(unobservable, name).not.toContain(name);
    }
  });

  test('percent current is no power: no kW/ton, with the reason', () => {
    const found = solve({ ...SET_B, 'main_compressor.current': good(600, 12) });
    expect(found.unobservable).toContain('unit.kw_per_ton');
    expect(found.metrics['unit.kw_per_ton']?.reason).toContain('percent current is no power');
  });
});
