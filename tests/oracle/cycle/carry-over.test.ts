/**
 * Liquid in the economizer compressor's suction: the quality at which all discharge superheat is gone (20 to 37 degC,
 * efficiency 0.74), from an independent calculation with CoolProp 8.0.0: 0.972 R-134a, 0.986 R-1233zd(E), 0.985 R-123,
 * 0.988 R-1234ze(E).
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { bad, good, machine, reason, solved, value } from '../../unit/cycle/given.ts';

function points(name: string, T8: number) {
  const fluid = must(refrigerant(name));
  return {
    'evaporator.pressure': good(must(fluid.dewPressure(278.15)), 500),
    'flash_tank.pressure': good(must(fluid.dewPressure(293.15)), 500),
    'condenser.pressure': good(must(fluid.bubblePressure(310.15)), 500),
    'condenser.liquid_temperature': good(306.15, 0.3),
    'economizer_compressor.running': good(1),
    'economizer_compressor.discharge_temperature': good(T8, 0.7),
  };
}

describe.each([
  ['R134a', 0.972],
  ['R1233zdE', 0.986],
  ['R123', 0.985],
  ['R1234zeE', 0.988],
] as const)('%s', (name, bound) => {
  const parameters = machine({ refrigerant: name });

  test(`saturates at ${bound}, as an upper bound`, () => {
    const found = solved(points(name, 310.15), parameters);
    expect(Math.abs(value(found, 'economizer_compressor.suction_quality') - bound)).toBeLessThan(0.0011);
    expect(found.metrics['economizer_compressor.suction_quality']?.quality).toBe('uncertain');
    expect(reason(found, 'economizer_compressor.suction_quality')).toContain('at most');
  });

  test('dry suction reads 1, 1 % of liquid 0.99', () => {
    const fluid = must(refrigerant(name));
    const out = must(fluid.bubblePressure(310.15));
    for (const quality of [1, 0.99]) {
      const from = must(fluid.TQ(293.15, quality));
      const ideal = must(fluid.PS(out, from.s));
      const { T } = must(fluid.PH(out, from.h + (ideal.h - from.h) / 0.74));
      const found = solved(points(name, T), parameters);
      if (T - 310.15 > 0.5) expect(value(found, 'economizer_compressor.suction_quality')).toBeCloseTo(quality, 5);
    }
  });
});

test('1 % of liquid turns a main efficiency of 0.83 into 0.91, and 1 K of discharge temperature is 3 points (R-134a)', () => {
  const fluid = must(refrigerant('R134a'));
  const parameters = machine();
  const out = must(fluid.bubblePressure(310.15));
  const efficiency = (T: number) =>
    value(
      solved({ ...points('R134a', 315), 'main_compressor.discharge_temperature': good(T, 0.7) }, parameters),
      'main_compressor.isentropic_efficiency',
    );
  const discharge = (quality: number) => {
    const from = must(fluid.TQ(278.15, quality));
    const ideal = must(fluid.PS(out, from.s));
    return must(fluid.PH(out, from.h + (ideal.h - from.h) / 0.83)).T;
  };
  expect(efficiency(discharge(1))).toBeCloseTo(0.83, 6);
  expect(efficiency(discharge(0.99))).toBeCloseTo(0.91, 2);
  expect(efficiency(discharge(1) - 1) - 0.83).toBeCloseTo(0.03, 1);
});

test('a bad discharge temperature is no statement about liquid', () => {
  const found = solved({ ...points('R134a', 315), 'economizer_compressor.discharge_temperature': bad('open circuit') });
  expect(reason(found, 'economizer_compressor.suction_quality')).toContain('open circuit');
});
