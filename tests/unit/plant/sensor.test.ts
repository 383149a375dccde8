/** Sensors: the stated uncertainty is the truth about them. */
import { expect, test } from 'vitest';
import { CH1_POINTS } from '../../../agent/plant/kestrel-quay/ch1-points.ts';
import { type PlantPoint, standardUncertainty } from '../../../agent/plant/point-map.ts';
import { Sensor } from '../../../agent/plant/sensor.ts';

const SEEDS = 600;

function point(name: string): PlantPoint {
  return CH1_POINTS.find((candidate) => candidate.name === name)!;
}

function sensor(name: string, si: () => number, seed: number, barometer = 101_325): Sensor {
  return new Sensor(point(name), { truth: si, barometer: () => barometer, seed });
}

test.each([
  ['chilled_water.leaving_temperature', 280, 0.1],
  ['condenser.liquid_temperature', 306, 0.3 * 1.8],
  ['main_compressor.discharge_temperature', 318, 0.7 * 1.8],
  ['evaporator.pressure', 350e3, 0.5],
  ['condenser.pressure', 937e3, 1],
  ['flash_tank.pressure', 572e3, 6],
  ['chilled_water.flow', 0.2271, 36],
  ['unit.power', 800e3, 8],
  ['flash_tank.level', 0.45, 3],
])('%s: offsets over many seeds have mean 0 and the stated standard uncertainty', (name, si, u) => {
  const errors: number[] = [];
  for (let seed = 0; seed < SEEDS; seed++) {
    const one = sensor(name, () => si, seed);
    let sum = 0;
    for (let i = 0; i < 40; i++) {
      one.step(1);
      sum += one.published;
    }
    errors.push(sum / 40 - one.trueValue());
    if (seed === 0) expect(standardUncertainty(one.point, one.trueValue())).toBeCloseTo(u, 1);
  }
  const mean = errors.reduce((a, b) => a + b) / SEEDS;
  const spread = Math.sqrt(errors.reduce((a, b) => a + (b - mean) ** 2, 0) / (SEEDS - 1));
  // Four standard errors of a mean and of a standard deviation of so many draws.
  expect(Math.abs(mean)).toBeLessThan((4 * u) / Math.sqrt(SEEDS));
  expect(Math.abs(spread / u - 1)).toBeLessThan(4 / Math.sqrt(2 * SEEDS) + 0.02);
});

test('lag: 63 % of a step after one time constant', () => {
  let si = 300;
  const one = sensor('condenser.liquid_temperature', () => si, 1);
  one.step(1);
  const before = one.reading;
  si = 320;
  for (let i = 0; i < 15; i++) one.step(1);
  expect((one.reading - before) / (20 * 1.8)).toBeCloseTo(1 - Math.exp(-1), 1);
});

test('what is published is a whole number of register steps', () => {
  const one = sensor('evaporator.pressure', () => 351_234, 5);
  one.step(1);
  expect(Number.isInteger(one.raw)).toBe(true);
  expect(one.published).toBeCloseTo(one.raw * 0.1, 12);
});

test('a vented gauge counts from the barometer of the day, a sealed one from the standard atmosphere', () => {
  const psi = 6894.757;
  const [low, high] = [99_000, 103_000];
  const vented = (barometer: number) => sensor('evaporator.pressure', () => 350e3, 1, barometer).trueValue();
  const sealed = (barometer: number) => sensor('condenser.pressure', () => 937e3, 1, barometer).trueValue();
  expect(vented(low) - vented(high)).toBeCloseTo((high - low) / psi, 4);
  expect(vented(low)).toBeCloseTo((350e3 - low) / psi, 3);
  expect(sealed(low)).toBeCloseTo((937e3 - 101_325) / psi, 3);
  expect(sealed(high)).toBe(sealed(low));
});

test('bus faults show on the bus alone: the controller still sees its reading', () => {
  let si = 0.45;
  const one = sensor('flash_tank.level', () => si, 2);
  for (let i = 0; i < 5; i++) one.step(1);
  const last = one.raw;
  one.busFault = { kind: 'frozen' };
  si = 0.6;
  for (let i = 0; i < 20; i++) one.step(1);
  expect(one.raw).toBe(last);
  expect(one.reading).toBeGreaterThan(55);
  one.busFault = { kind: 'nan' };
  one.step(1);
  expect(one.raw).toBeNaN();
  one.busFault = { kind: 'raw', raw: -9999 };
  one.step(1);
  expect(one.published).toBe(-9999);
  one.busFault = null;
  one.step(1);
  expect(one.published).toBeCloseTo(one.reading, 6);
});

test('another draw of the same sensor moves its value by the difference of offsets', () => {
  const one = sensor('chilled_water.leaving_temperature', () => 280, 9);
  const at = one.withDraw(6.85, 0);
  expect(one.withDraw(6.85, 1) - at).toBeCloseTo(0.1, 9);
  expect(one.withDraw(6.85, -2) - at).toBeCloseTo(-0.2, 9);
  const flow = sensor('chilled_water.flow', () => 0.2271, 9);
  expect(flow.withDraw(3600, 1) / flow.withDraw(3600, 0)).toBeCloseTo(1.01, 9);
});
