/** Water of the plant; values of the steam tables at atmospheric pressure, from memory. */
import { expect, test } from 'vitest';
import { WaterSide, waterDensity, waterEnthalpy, waterHeatCapacity } from '../../../agent/plant/water.ts';

test.each([
  [277.13, 999.97],
  [283.15, 999.7],
  [293.15, 998.2],
  [313.15, 992.2],
])('density at %f K is %f kg/m3', (T, rho) => {
  expect(waterDensity(T)).toBeCloseTo(rho, 1);
});

test('heat capacity at 25 C is 4181.5 J/(kg K) within 0.02 %, and enthalpy is its integral', () => {
  expect(Math.abs(waterHeatCapacity(298.15) / 4181.5 - 1)).toBeLessThan(2e-4);
  const slope = (waterEnthalpy(298.151) - waterEnthalpy(298.149)) / 0.002;
  expect(slope / waterHeatCapacity(298.15)).toBeCloseTo(1, 6);
});

test('a bundle at rest with its heat source gives the effectiveness of one stream against a constant temperature', () => {
  const side = new WaterSide({ conductance: 1.4e6, designFlow: 0.28, content: 2000, pressureDrop: 70e3 });
  side.start(303);
  side.flow(1, 0.28, 302.55);
  let heat = 0;
  for (let i = 0; i < 4000; i++) {
    heat = side.exchange(310.15, 0);
    side.step(0.5, heat);
  }
  // Incropera et al., Fundamentals of Heat and Mass Transfer: effectiveness 1 - exp(-NTU) for a capacity ratio of 0.
  const ntu = 1.4e6 / (side.massFlow * waterHeatCapacity(302.55));
  expect((side.leaving - 302.55) / (310.15 - 302.55)).toBeCloseTo(1 - Math.exp(-ntu), 3);
  expect(side.pickedUp / heat).toBeCloseTo(1, 6);
});

test('twice the pressure drop at 1.47 times the flow: exponent 1.8, common practice', () => {
  const side = new WaterSide({ conductance: 1.4e6, designFlow: 0.28, content: 2000, pressureDrop: 70e3 });
  side.start(300);
  side.flow(1, 0.28 * 2 ** (1 / 1.8), 300);
  expect(side.pressureDrop).toBeCloseTo(140e3, 3);
});
