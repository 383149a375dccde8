/** Each pair leads back to the state it was taken from; any number whatever gets an answer. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { must, type Result } from '../../../agent/base/result.ts';
import { REFRIGERANTS, refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import type { State } from '../../../agent/refrigerant/types.ts';
import { anyNumber, RUNS, saturationPressures, temperaturesAndPressures } from './arbitraries.ts';

/** `density`: what the density may differ by, relatively. */
function same(found: State, expected: State, pair: string, density = 1e-8): void {
  for (const key of ['T', 'p', 'rho', 'h', 's'] as const) {
    const size = key === 'h' ? 1e5 : key === 's' ? 1e3 : Math.abs(expected[key]);
    expect(
      Math.abs(found[key] - expected[key]) / size,
      `${pair} ${key}: ${found[key]} for ${expected[key]}`,
    ).toBeLessThan(key === 'rho' ? density : 1e-8);
  }
  if (expected.q !== null && found.q !== null) expect(Math.abs(found.q - expected.q)).toBeLessThan(1e-8);
}

describe.each(REFRIGERANTS)('%s', (name) => {
  const fluid = must(refrigerant(name));

  test('single phase: TP, PH and PS give one state', () => {
    fc.assert(
      fc.property(temperaturesAndPressures(fluid), ([T, p]) => {
        const tried = fluid.TP(T, p);
        fc.pre(tried.ok);
        const state = must(tried);
        expect(state.q).toBeNull();
        same(must(fluid.PH(p, state.h)), state, 'PH');
        same(must(fluid.PS(p, state.s)), state, 'PS');
      }),
      { numRuns: RUNS },
    );
  });

  test('a hair beside the saturation line as well', () => {
    const hairs = fc.constantFrom(1e-8, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3);
    fc.assert(
      fc.property(saturationPressures(fluid), hairs, fc.boolean(), (p, hair, warmer) => {
        const T = must(fluid.saturationTemperature(p)) * (1 + (warmer ? hair : -hair));
        fc.pre(T >= fluid.range.T_min);
        const state = must(fluid.TP(T, p));
        expect(state.phase).toBe(warmer ? 'vapour' : 'liquid');
        const byEnthalpy = must(fluid.PH(p, state.h));
        const byEntropy = must(fluid.PS(p, state.s));
        for (const found of [byEnthalpy, byEntropy]) {
          expect(found.phase).toBe(state.phase);
          expect(found.T / T).toBeCloseTo(1, 9);
          expect(found.h / state.h).toBeCloseTo(1, 9);
        }
      }),
      { numRuns: RUNS },
    );
  });

  test('two phases: PQ, TQ, PH and PS give one state', () => {
    fc.assert(
      fc.property(saturationPressures(fluid), fc.double({ min: 0, max: 1, noNaN: true }), (p, q) => {
        const state = must(fluid.PQ(p, q));
        expect(state.q).toBe(q);
        // A quality within 1e-10 of 0 or 1 is given as saturated; near 0 that moves the density by as many volumes of
        // vapour.
        const apart = 1e-8 + 2e-10 * (must(fluid.PQ(p, 0)).rho / must(fluid.PQ(p, 1)).rho);
        same(must(fluid.PH(p, state.h)), state, 'PH', apart);
        same(must(fluid.PS(p, state.s)), state, 'PS', apart);
        const { T_min, saturation } = fluid.range;
        same(must(fluid.TQ(Math.min(saturation.T_max, Math.max(T_min, state.T)), q)), state, 'TQ', apart);
      }),
      { numRuns: RUNS },
    );
  });

  test('any pressure with any enthalpy or entropy between the ends of its isobar is answered', () => {
    const { T_min, T_max } = fluid.range;
    fc.assert(
      fc.property(temperaturesAndPressures(fluid), fc.double({ min: 0, max: 1, noNaN: true }), ([, p], part) => {
        const [cold, warm] = [must(fluid.TP(T_min, p)), must(fluid.TP(T_max, p))];
        const h = cold.h + part * (warm.h - cold.h);
        const s = cold.s + part * (warm.s - cold.s);
        const [byEnthalpy, byEntropy] = [must(fluid.PH(p, h)), must(fluid.PS(p, s))];
        expect(byEnthalpy.h / h).toBeCloseTo(1, 12);
        same(must(fluid.PS(p, byEnthalpy.s)), byEnthalpy, 'PS of PH');
        same(must(fluid.PH(p, byEntropy.h)), byEntropy, 'PH of PS');
      }),
      { numRuns: RUNS },
    );
  });

  test('any number whatever: a state of finite numbers or a named fault, never a throw', () => {
    const calls: ((a: number, b: number) => Result<State | number>)[] = [
      (a, b) => fluid.TP(a, b),
      (a, b) => fluid.PH(a, b),
      (a, b) => fluid.PS(a, b),
      (a, b) => fluid.PQ(a, b),
      (a, b) => fluid.TQ(a, b),
      (a) => fluid.saturationTemperature(a),
      (a) => fluid.saturationPressure(a),
    ];
    const plausible = fc.tuple(
      fc.double({ min: 200, max: 650, noNaN: true }),
      fc.double({ min: 2, max: 7, noNaN: true }).map((x) => 10 ** x),
      fc.double({ min: -2e5, max: 1.2e6, noNaN: true }),
      fc.double({ min: -1e3, max: 4e3, noNaN: true }),
    );
    const check = (result: Result<State | number>): void => {
      if (!result.ok) {
        expect(['refrigerant_out_of_range', 'refrigerant_no_solution']).toContain(result.fault.code);
        return;
      }
      const numbers = typeof result.value === 'number' ? [result.value] : Object.values(result.value);
      for (const value of numbers) if (typeof value === 'number') expect(Number.isFinite(value)).toBe(true);
    };
    fc.assert(
      fc.property(anyNumber, anyNumber, plausible, (a, b, [T, p, h, s]) => {
        for (const call of calls) check(call(a, b));
        for (const result of [
          fluid.TP(T, p),
          fluid.PH(p, h),
          fluid.PS(p, s),
          fluid.TP(T, b),
          fluid.PH(p, b),
          fluid.PS(p, b),
        ]) {
          check(result);
        }
      }),
      { numRuns: 5 * RUNS },
    );
  });
});
