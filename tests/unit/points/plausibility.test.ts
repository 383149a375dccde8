/** Goal: readings that cannot be true together are found, with both figures, and a healthy machine raises nothing. */
import { describe, expect, test } from 'vitest';
import { plausibility } from '../../../agent/points/plausibility.ts';
import { snapshotOf, T0 } from './samples-of.ts';

const C = 273.15;
/** 3600 gpm, 12.2 to 6.7 degC, 830 kW: about 1500 tons at COP 6. */
const HEALTHY = {
  'chilled_water.entering_temperature': C + 12.2,
  'chilled_water.leaving_temperature': C + 6.7,
  'chilled_water.flow': 0.2271,
  'condenser_water.entering_temperature': C + 29.4,
  'condenser_water.leaving_temperature': C + 34.6,
  'evaporator.pressure': 350e3,
  'flash_tank.pressure': 570e3,
  'condenser.pressure': 940e3,
  'unit.power': 830e3,
};

function findings(changes: Record<string, number | null>, running = true) {
  return plausibility({ snapshot: snapshotOf(T0, { ...HEALTHY, ...changes }), running });
}

test('a healthy machine, and a stopped one in any order, raise nothing', () => {
  expect(findings({})).toEqual([]);
  expect(findings({ 'evaporator.pressure': 950e3, 'chilled_water.leaving_temperature': C + 20 }, false)).toEqual([]);
});

test('missing points are no contradiction', () => {
  expect(plausibility({ snapshot: snapshotOf(T0, {}), running: true })).toEqual([]);
});

describe('order', () => {
  test('exchanged water sensors', () => {
    const [chilled, ...rest] = findings({
      'chilled_water.entering_temperature': C + 6.7,
      'chilled_water.leaving_temperature': C + 12.2,
    });
    expect(rest).toEqual([]);
    expect(chilled?.code).toBe('chilled_water_reversed');
    expect(chilled?.message).toContain('5.5 K warmer');
    expect(chilled?.points).toEqual(['chilled_water.entering_temperature', 'chilled_water.leaving_temperature']);
    expect(findings({ 'condenser_water.leaving_temperature': C + 28 })[0]?.code).toBe('condenser_water_reversed');
  });

  test('a disorder within the sensors own doubt is none', () => {
    // u is 0.03 K each: 0.1 K the wrong way is within three combined.
    expect(findings({ 'condenser_water.leaving_temperature': C + 29.3 })).toEqual([]);
  });

  test('pressures out of order name the pair', () => {
    const found = findings({ 'flash_tank.pressure': 990e3 });
    expect(found.map(({ code }) => code)).toEqual(['pressures_out_of_order']);
    expect(found[0]?.points).toEqual(['flash_tank.pressure', 'condenser.pressure']);
    expect(found[0]?.message).toContain('990.0 kPa');
    expect(findings({ 'flash_tank.pressure': null, 'evaporator.pressure': 990e3 })[0]?.points).toEqual([
      'evaporator.pressure',
      'condenser.pressure',
    ]);
  });
});

describe('flow in another unit', () => {
  test('60 times too small: 11 kW of cooling for 92 kW of power', () => {
    // First rows of a published chiller data set whose gpm were taken as gallons an hour: 0.001838 m3/s, 1.43 K, 92.4
    // kW.
    const [found, ...rest] = findings({
      'chilled_water.flow': 0.001838,
      'chilled_water.entering_temperature': C + 8.43,
      'chilled_water.leaving_temperature': C + 7,
      'unit.power': 92.4e3,
    });
    expect(rest).toEqual([]);
    expect(found?.code).toBe('chilled_water_flow_unit');
    expect(found?.message).toBe(
      '11 kW of cooling for 92.4 kW of power (COP 0.12) cannot be; with a flow per minute taken as per hour ' +
        'it would be COP 7.2: check the unit of chilled_water.flow',
    );
    expect(found?.points).toEqual(['chilled_water.flow']);
  });

  test.each([
    [15.850323, 'gpm taken as l/s'],
    [1 / 15.850323, 'l/s taken as gpm'],
    [60, 'a flow per hour taken as per minute'],
  ])('read %f times too large: %s', (factor, words) => {
    expect(findings({ 'chilled_water.flow': 0.2271 * factor })[0]?.message).toContain(words);
  });

  test('what no mistaken unit explains is still said', () => {
    expect(findings({ 'unit.power': 8e9 })[0]?.code).toBe('no_cooling_for_the_power');
  });
});
