/**
 * The plant's tables between their lines, against grids of the same independent code (CoolProp 8.0.0) at other
 * temperatures and pressures.
 */
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { Fluid, SaturationState, VapourState } from '../../../agent/plant/fluid.ts';

const fluid = new Fluid('R134a');

function grid(name: string): Record<string, string>[] {
  const text = readFileSync(new URL(`../../oracle/grids/${name}`, import.meta.url), 'utf8').trim();
  const [head = '', ...rows] = text.split('\n');
  const names = head.split(',');
  return rows.map((row) => Object.fromEntries(row.split(',').map((cell, i) => [names[i] as string, cell])));
}

test('saturation between the lines agrees with the independent grid to 2e-6', () => {
  const state = new SaturationState();
  let checked = 0;
  for (const row of grid('R134a-saturation.csv')) {
    const p = Number(row['p']);
    if (p < 1.56e5 || p > 2.1e6) continue;
    checked += 1;
    fluid.saturation(fluid.coordinate(p), state);
    expect(Math.abs(state.p / p - 1)).toBeLessThan(1e-12);
    expect(Math.abs(state.T / Number(row['T']) - 1)).toBeLessThan(2e-6);
    expect(Math.abs(state.rhoLiquid / Number(row['rho_liquid']) - 1)).toBeLessThan(2e-6);
    expect(Math.abs(state.rhoVapour / Number(row['rho_vapour']) - 1)).toBeLessThan(2e-6);
    expect(Math.abs(state.hLiquid / Number(row['h_liquid']) - 1)).toBeLessThan(2e-6);
    expect(Math.abs(state.hVapour / Number(row['h_vapour']) - 1)).toBeLessThan(2e-6);
  }
  expect(checked).toBeGreaterThan(20);
});

test('vapour between the lines agrees with the independent grid to 2e-5 of density, 20 J/kg and 0.1 J/(kg K)', () => {
  const saturation = new SaturationState();
  const vapour = new VapourState();
  let checked = 0;
  for (const row of grid('R134a-single-phase.csv')) {
    const p = Number(row['p']);
    const T = Number(row['T']);
    if (row['phase'] !== 'vapour' || p < 1.5e5 || p > 2.1e6) continue;
    const z = fluid.coordinate(p);
    fluid.saturation(z, saturation);
    const superheat = T - saturation.T;
    if (superheat > 57) continue;
    checked += 1;
    fluid.vapour(z, superheat, vapour);
    expect(Math.abs(vapour.rho / Number(row['rho']) - 1)).toBeLessThan(2e-5);
    expect(Math.abs(vapour.h - Number(row['h']))).toBeLessThan(20);
    expect(Math.abs(vapour.s - Number(row['s']))).toBeLessThan(0.1);
    fluid.vapourOfEnthalpy(z, Number(row['h']), vapour);
    expect(vapour.superheat).toBeCloseTo(superheat, 1);
    fluid.vapourOfEntropy(z, Number(row['s']), vapour);
    expect(vapour.superheat).toBeCloseTo(superheat, 1);
  }
  expect(checked).toBeGreaterThan(5);
});

test('the flash at the reference point, 33 C liquid into a tank at 20 C, makes 10.207 % vapour (CoolProp 8.0.0)', () => {
  const at = new SaturationState();
  fluid.saturationAt(306.15, at);
  const h3 = at.hLiquid;
  fluid.saturationAt(293.15, at);
  expect((h3 - at.hLiquid) / (at.hVapour - at.hLiquid)).toBeCloseTo(0.10207, 4);
});

test('slopes are those of the values', () => {
  const [a, b, mid] = [new SaturationState(), new SaturationState(), new SaturationState()];
  fluid.saturation(30.301, a);
  fluid.saturation(30.299, b);
  fluid.saturation(30.3, mid);
  for (const [slope, value] of [
    ['dp', 'p'],
    ['dT', 'T'],
    ['dRhoLiquid', 'rhoLiquid'],
    ['dRhoVapour', 'rhoVapour'],
    ['dhLiquid', 'hLiquid'],
    ['dhVapour', 'hVapour'],
  ] as const)
    expect(mid[slope] / ((a[value] - b[value]) / 0.002)).toBeCloseTo(1, 5);
});

test('a pressure outside the tables is refused', () => {
  expect(() => fluid.saturation(fluid.coordinate(1e5), new SaturationState())).toThrow(/within the tables/);
});
