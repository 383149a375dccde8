/**
 * Goal: a machine that stood for hours shows which sensor is off and whether there is air in the condenser, and nothing
 * is said of one that has not come to rest. Method: the emulated plant, stopped for hours, with known sensors; and
 * sensors set by hand around saturation. Saturation of R-134a at 20 degC: 571.7 kPa (ASHRAE Handbook, Fundamentals,
 * from memory).
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { type StandstillCheck, standstillCheck } from '../../../agent/diagnosis/standstill.ts';
import type { PointValue, Snapshot } from '../../../agent/points/types.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { recorded } from './recorded.ts';

const R134a = must(refrigerant('R134a'));
const R1233zdE = must(refrigerant('R1233zdE'));
const SATURATION = 571.7e3;

function point(value: number, u: number, u_barometer?: number): PointValue {
  const shared = u_barometer === undefined ? {} : { u_barometer };
  return { value, u, ...shared, quality: 'good', reason: null, age_s: 1, spread: null, n: 1 };
}

/** 20 degC everywhere, each sensor right, but for the changes. */
function stood(changes: Readonly<Record<string, PointValue>> = {}): Snapshot {
  const T = 293.15;
  const points = {
    'chilled_water.entering_temperature': point(T, 0.1),
    'chilled_water.leaving_temperature': point(T, 0.1),
    'condenser_water.entering_temperature': point(T, 0.1),
    'condenser_water.leaving_temperature': point(T, 0.1),
    'condenser.liquid_temperature': point(T, 0.3),
    'flash_tank.temperature': point(T, 0.3),
    'main_compressor.suction_temperature': point(T, 0.7),
    'evaporator.pressure': point(SATURATION, 3000),
    'flash_tank.pressure': point(SATURATION, 3000),
    'condenser.pressure': point(SATURATION, 3000),
  };
  return { time: 0, points: { ...points, ...changes } };
}

const check = (snapshot: Snapshot): StandstillCheck => standstillCheck({ snapshot, refrigerant: R134a });

describe('set by hand', () => {
  test('sensors that are right agree on the temperature, pressures included', () => {
    const { ready, temperature, comparisons, suspects, excess } = check(stood());
    expect(ready).toBe(true);
    expect(temperature).toBeCloseTo(293.15, 1);
    expect(comparisons.filter(({ verdict }) => verdict !== 'agree')).toEqual([]);
    expect(comparisons.map(({ kind }) => kind)).toEqual(
      expect.arrayContaining(['pressures', 'saturation', 'temperature']),
    );
    expect(suspects).toEqual([]);
    expect(excess?.verdict).toBe('none');
  });

  test('a thermometer 2 K off is named with its offset, alone', () => {
    const { suspects } = check(stood({ 'condenser.liquid_temperature': point(295.15, 0.3) }));
    expect(suspects.map((each) => each.point)).toEqual(['condenser.liquid_temperature']);
    expect(suspects[0]?.offset).toBeCloseTo(2, 1);
  });

  test('a pressure transmitter 40 kPa low is named in pascals', () => {
    const { suspects, excess } = check(stood({ 'evaporator.pressure': point(SATURATION - 40e3, 3000) }));
    expect(suspects.map((each) => each.point)).toEqual(['evaporator.pressure']);
    expect((suspects[0]?.offset ?? 0) / 1000).toBeCloseTo(-40, -0.5);
    expect(excess?.verdict).toBe('none');
  });

  test('pressure above saturation in the condenser alone is air; below it is a sensor; with another it is not told', () => {
    const high = point(SATURATION + 60e3, 3000);
    const air = check(stood({ 'condenser.pressure': high }));
    expect(air.excess?.verdict).toBe('air');
    expect((air.excess?.pressure ?? 0) / 1000).toBeCloseTo(60, -0.5);
    // Air is no error of the condenser's transmitter.
    expect(air.suspects).toEqual([]);
    expect(check(stood({ 'condenser.pressure': point(SATURATION - 60e3, 3000) })).excess?.verdict).toBe('sensor');
    const all = { 'condenser.pressure': high, 'evaporator.pressure': high, 'flash_tank.pressure': high };
    expect(check(stood(all)).excess?.verdict).toBe('sensor');
  });

  test('one barometer common to two vented gauges is no doubt about their difference', () => {
    const vented = (value: number): PointValue => point(value, Math.hypot(500, 4000), 4000);
    const pair = (given: Snapshot) =>
      check(given).comparisons.find(
        ({ point: a, other: b }) => a === 'condenser.pressure' && b === 'evaporator.pressure',
      );
    const shared = pair(stood({ 'condenser.pressure': vented(SATURATION), 'evaporator.pressure': vented(SATURATION) }));
    // Own 500 Pa each and 500 Pa between the vessels.
    expect(shared?.u).toBeCloseTo(Math.sqrt(3) * 500, 0);
    const one = pair(
      stood({ 'condenser.pressure': vented(SATURATION), 'evaporator.pressure': point(SATURATION, 500) }),
    );
    expect(one?.u).toBeCloseTo(Math.hypot(500, 4000, 500, 500), 0);
  });

  test('not yet equalised, or too few sensors: nothing is said, with the reason', () => {
    const warm = ['entering', 'leaving'].map(
      (end) => [`condenser_water.${end}_temperature`, point(303.15, 0.1)] as const,
    );
    expect(check(stood(Object.fromEntries(warm)))).toMatchObject({ ready: false, comparisons: [], excess: null });
    expect(check(stood(Object.fromEntries(warm))).reason).toContain('not stood long enough');
    const few = { time: 0, points: { 'evaporator.pressure': point(SATURATION, 3000) } };
    expect(check(few).reason).toContain('fewer than three');
  });
});

describe.each([
  ['CH-1', R134a],
  ['CH-2', R1233zdE],
] as const)('the plant: %s', (chiller, fluid) => {
  const at = async (...faults: string[]): Promise<StandstillCheck[]> => {
    const stops = ['--fault', 'machine_stop:1@600', ...faults.flatMap((fault) => ['--fault', fault])];
    const minutes = await recorded(chiller, 8, '--seed', '3', ...stops);
    return [minutes[20], minutes[479]].map((snapshot) =>
      standstillCheck({ snapshot: snapshot as Snapshot, refrigerant: fluid }),
    );
  };

  test('ten minutes after the stop nothing is said; after eight hours its good sensors agree', async () => {
    const [soon, late] = await at();
    expect(soon?.ready).toBe(false);
    expect(late).toMatchObject({ ready: true, suspects: [] });
    expect(late?.excess?.verdict).toBe('none');
  });

  test('a liquid thermometer that drifted by 5 degF is named', async () => {
    const [, late] = await at('sensor_drift/condenser.liquid_temperature:5@0');
    expect(late?.suspects.map((each) => each.point)).toEqual(['condenser.liquid_temperature']);
    expect(Math.abs((late?.suspects[0]?.offset ?? 0) - 5 / 1.8)).toBeLessThan(3 * 0.35);
  });

  test('air of 60 kPa in the condenser is told from its sensors', async () => {
    const [, late] = await at('non_condensables:60@0');
    expect(late?.excess?.verdict).toBe('air');
    expect(late?.suspects).toEqual([]);
  });
});
