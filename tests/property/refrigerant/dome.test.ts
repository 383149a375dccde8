/**
 * The saturation series against the equation itself: equilibria searched anew (Newton's method on equal pressure and
 * Gibbs energy, from a start that is off by a percent) at random temperatures.
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { Dome } from '../../../agent/refrigerant/dome.ts';
import { Equation } from '../../../agent/refrigerant/equation.ts';
import { REFRIGERANTS, refrigerantData } from '../../../agent/refrigerant/refrigerants.ts';
import { saturateAtTemperature } from '../../../agent/refrigerant/saturation.ts';
import { fitSaturation } from '../../../agent/refrigerant/saturation_series.ts';

/** 1e-8 is asked. */
const TOLERANCE = 1e-10;

describe.each(REFRIGERANTS)('%s', (name) => {
  const equation = new Equation(must(refrigerantData(name)));
  const dome = new Dome(equation);
  const near = (found: number, expected: number, scale = Math.abs(expected)) =>
    expect(Math.abs(found - expected) / scale).toBeLessThan(TOLERANCE);

  test('pressure, temperature, densities, enthalpies and entropies are those of the equation', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 1, noNaN: true }), (share) => {
        const T = dome.T_min + share * (dome.T_max - dome.T_min);
        const state = { T, p: 0, rhoLiquid: 1.01 * dome.liquidDensity(T), rhoVapour: 0.99 * dome.vapourDensity(T) };
        expect(saturateAtTemperature(equation, T, state)).toBe(true);
        dome.atTemperature(T);
        near(dome.found.p, state.p);
        near(dome.found.rhoLiquid, state.rhoLiquid);
        near(dome.found.rhoVapour, state.rhoVapour);
        near(dome.temperature(state.p), T);
        equation.at(T, state.rhoVapour);
        const { h, s } = equation;
        equation.at(T, state.rhoLiquid);
        const [latent, difference] = [h - equation.h, s - equation.s];
        near(dome.vapour('h', T), h, latent);
        near(dome.liquid('h', T), equation.h, latent);
        near(dome.vapour('s', T), s, difference);
        near(dome.liquid('s', T), equation.s, difference);
      }),
      { numRuns: 300 },
    );
  });

  test('the check at the start sees series that are too short', () => {
    const [low, high] = [0.08, Math.sqrt(1 - dome.T_min / dome.critical.T)];
    expect(fitSaturation(equation, dome.critical, low, high, 1).error).toBeGreaterThan(1e-7);
    expect(dome.error).toBeLessThan(1e-11);
  });
});
