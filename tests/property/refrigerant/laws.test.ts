/**
 * What holds for any refrigerant, whatever its equation: laws of thermodynamics, tested by differences of answers. No
 * source needed.
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { REFRIGERANTS, refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { RUNS, saturationPressures, saturationTemperatures, temperaturesAndPressures } from './arbitraries.ts';

describe.each(REFRIGERANTS)('%s', (name) => {
  const fluid = must(refrigerant(name));
  const { T_min, T_max, p_min, p_max, saturation } = fluid.range;

  test('p(T(p)) = p and T(p(T)) = T', () => {
    fc.assert(
      fc.property(saturationPressures(fluid), saturationTemperatures(fluid), (p, T) => {
        expect(must(fluid.saturationPressure(must(fluid.saturationTemperature(p)))) / p).toBeCloseTo(1, 9);
        expect(must(fluid.saturationTemperature(must(fluid.saturationPressure(T)))) / T).toBeCloseTo(1, 10);
      }),
      { numRuns: RUNS },
    );
  });

  test('equilibrium: one Gibbs energy, and dp/dT = (s_v - s_l)/(v_v - v_l) by Clapeyron', () => {
    fc.assert(
      fc.property(saturationTemperatures(fluid), (T) => {
        const liquid = must(fluid.TQ(T, 0));
        const vapour = must(fluid.TQ(T, 1));
        const latent = vapour.h - liquid.h;
        expect(Math.abs(latent - T * (vapour.s - liquid.s)) / latent).toBeLessThan(1e-9);
        const step = 1e-3;
        fc.pre(T - step > T_min && T + step < saturation.T_max);
        const rise = (must(fluid.saturationPressure(T + step)) - must(fluid.saturationPressure(T - step))) / (2 * step);
        const clapeyron = (vapour.s - liquid.s) / (1 / vapour.rho - 1 / liquid.rho);
        expect(Math.abs(rise / clapeyron - 1)).toBeLessThan(1e-6);
      }),
      { numRuns: RUNS },
    );
  });

  test('dh = T ds + v dp along any short path inside a phase', () => {
    fc.assert(
      fc.property(temperaturesAndPressures(fluid), fc.double({ min: -1, max: 1, noNaN: true }), ([T, p], turn) => {
        const dT = 1e-3 * Math.cos(Math.PI * turn);
        const dp = 1e-5 * p * Math.sin(Math.PI * turn);
        const inside = (t: number, q: number) => t > T_min && t < T_max && q > p_min && q < p_max;
        fc.pre(inside(T - dT, p - dp) && inside(T + dT, p + dp));
        const before = must(fluid.TP(T - dT, p - dp));
        const after = must(fluid.TP(T + dT, p + dp));
        const middle = must(fluid.TP(T, p));
        fc.pre(before.phase === after.phase && before.phase === middle.phase);
        const dh = after.h - before.h;
        const heat = T * (after.s - before.s);
        const work = (2 * dp) / middle.rho;
        // 1e-9 of h itself is what rounding leaves of a difference this small.
        const scale = Math.abs(heat) + Math.abs(work) + 1e-3;
        expect(Math.abs(dh - heat - work)).toBeLessThan(1e-5 * scale + 1e-9 * Math.abs(middle.h));
      }),
      { numRuns: RUNS },
    );
  });

  test('heat capacities and sound speed: cp > cv > 0, cp = (dh/dT)_p, w^2 = (dp/drho)_s', () => {
    fc.assert(
      fc.property(temperaturesAndPressures(fluid), ([T, p]) => {
        fc.pre(T > T_min + 1 && T < T_max - 1 && p > 1.01 * p_min && p < 0.99 * p_max);
        const state = must(fluid.TP(T, p));
        expect(state.cv!).toBeGreaterThan(0);
        expect(state.cp!).toBeGreaterThan(state.cv!);
        const [warm, cold] = [must(fluid.TP(T + 0.01, p)), must(fluid.TP(T - 0.01, p))];
        const [up, down] = [fluid.PS(p * 1.0005, state.s), fluid.PS(p * 0.9995, state.s)];
        fc.pre(warm.phase === state.phase && cold.phase === state.phase && up.ok && down.ok);
        expect((warm.h - cold.h) / 0.02 / state.cp!).toBeCloseTo(1, 4);
        if (!up.ok || !down.ok || up.value.phase !== state.phase || down.value.phase !== state.phase) return;
        const slope = (0.001 * p) / (up.value.rho - down.value.rho);
        // Liquid at low pressure: the density changes in its tenth digit alone, too little to divide by.
        if (Math.abs(up.value.rho / down.value.rho - 1) < 1e-7) return;
        expect(slope / state.w! ** 2).toBeCloseTo(1, 3);
      }),
      { numRuns: RUNS },
    );
  });
});
