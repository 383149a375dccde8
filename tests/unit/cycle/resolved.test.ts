/**
 * The saving with the condenser solved anew, from points. Its law, T_c - T_in in proportion to the heat at the same
 * water flow and UA, is that of an exchanger with one side at one temperature (effectiveness 1 - exp(-NTU), any
 * heat-transfer textbook).
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { design } from '../../../agent/cycle/design.ts';
import { built, designed, pointsOf, SUBCOOLER, THREE } from './economizers.ts';
import { good, machine, reason, SET_C, SET_CD, solved, value } from './given.ts';

const NAME = 'economizer.saving_fraction_resolved';
const CONDENSING = 'economizer.condensing_temperature_without';
const asked = { resolve_approaches: true };

test('only where it is asked for', () => {
  expect(reason(solved(SET_CD), NAME)).toBe('resolve_approaches is not set in the site file');
  expect(value(solved(SET_CD, machine(asked)), NAME)).toBeGreaterThan(0.052);
});

test('more than at equal condensing temperature, by the heat that the condenser gets more', () => {
  const found = solved(SET_C, machine(asked));
  const [T, water] = [value(found, CONDENSING), 29.5];
  expect(T).toBeGreaterThan(37);
  const s = value(found, NAME);
  const heat = (power: number) => 5275.28 + power;
  const power = value(found, 'unit.power');
  expect((T - water) / (37 - water)).toBeCloseTo(heat(power / (1 - s)) / heat(power), 4);
  expect(found.metrics[NAME]?.uncertainty as number).toBeGreaterThan(
    0.5 * (found.metrics['economizer.saving_fraction']?.uncertainty as number),
  );
});

test('an open drive loses its heat to the room: the condenser warms up less', () => {
  const drive = (motor: string) =>
    machine({ ...asked, main_compressor: { motor, drive_efficiency: 0.9 }, economizer_compressor: { motor } });
  const [hermetic, open] = [solved(SET_C, drive('hermetic')), solved(SET_C, drive('open'))];
  expect(value(open, CONDENSING)).toBeLessThan(value(hermetic, CONDENSING) - 1e-4);
});

test('motor cooling costs both machines, the one without economizer more: its liquid carries less', () => {
  const cooled = (motor_cooling: boolean) =>
    solved(SET_C, machine({ ...asked, motor_cooling, main_compressor: { drive_efficiency: 0.9 } }));
  expect(value(cooled(true), NAME)).not.toBeCloseTo(value(cooled(false), NAME), 5);
});

test.each([
  ['economizer off', { 'economizer_compressor.running': good(0) }, 'the economizer is off'],
  [
    'water warmer than it condenses',
    { 'condenser_water.entering_temperature': good(312, 0.1) },
    'condenser water enters',
  ],
] as const)('%s: none, and why', (_, more, why) => {
  expect(reason(solved({ ...SET_C, ...more }, machine(asked)), NAME)).toContain(why);
});

describe.each([
  ['subcooler', SUBCOOLER],
  ['three stages', THREE],
] as const)('%s', (_, given) => {
  test('the machine without economizer, calculated as one at the temperature found', () => {
    const points = {
      ...pointsOf(designed(given), given, true),
      'condenser_water.entering_temperature': good(302.65, 0.1),
    };
    const found = solved(points, built(given, asked));
    const T = value(found, CONDENSING) + 273.15;
    const off = must(
      design({ ...given, economizer: 'off', tanks: [], subcooler: undefined, condenser: { T, subcooling: 4 } }),
    );
    expect(1 - designed(given).power / off.power).toBeCloseTo(value(found, NAME), 5);
  });
});

test('bounds follow the ratio of efficiencies that the site file gives', () => {
  const found = solved(SET_CD, machine({ efficiency_ratio: { low: 1, high: 1.02 } }));
  const s = value(found, 'economizer.saving_fraction');
  expect(value(found, 'economizer.saving_fraction_high')).toBeCloseTo(s, 12);
  expect(value(found, 'economizer.saving_fraction_low')).toBeCloseTo(1 - (1 - s) * 1.02, 12);
});
