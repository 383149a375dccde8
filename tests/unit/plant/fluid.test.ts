/**
 * The plant's tables between their lines, against grids of the same independent code (CoolProp 8.0.0) at other
 * temperatures and pressures.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { Fluid, SaturationState, VapourState } from '../../../agent/plant/fluid.ts';

const fluid = new Fluid('R134a');
/** Name and the range of pressure (Pa) in which the grids are compared: a little inside the tables. */
const FLUIDS = [
  ['R134a', 1.56e5, 2.1e6],
  ['R1233zdE', 2.1e4, 5.8e5],
] as const;

function grid(name: string): Record<string, string>[] {
  const text = readFileSync(new URL(`../../oracle/grids/${name}`, import.meta.url), 'utf8').trim();
  const [head = '', ...rows] = text.split('\n');
  const names = head.split(',');
  return rows.map((row) => Object.fromEntries(row.split(',').map((cell, i) => [names[i] as string, cell])));
}

describe.each(FLUIDS)('%s', (name, low, high) => {
  const fluid = new Fluid(name);

  test('saturation between the lines agrees with the independent grid to 2e-6', () => {
    const state = new SaturationState();
    let checked = 0;
    for (const row of grid(`${name}-saturation.csv`)) {
      const p = Number(row['p']);
      if (p < low || p > high) continue;
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
    for (const row of grid(`${name}-single-phase.csv`)) {
      const p = Number(row['p']);
      const T = Number(row['T']);
      if (row['phase'] !== 'vapour' || p < low || p > high) continue;
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

describe('with liquid in it', () => {
  const medium = new Fluid('R1233zdE');
  const at = new SaturationState();
  const vapour = new VapourState();

  test('ideal compression of R-1233zd(E) from 5 to 37 C ends at a quality of 0.995 (CoolProp 8.0.0)', () => {
    medium.saturationAt(278.15, at);
    medium.vapour(at.z, 0, vapour);
    const { s } = vapour;
    medium.saturationAt(310.15, at);
    medium.vapourOfEntropy(at.z, s, vapour);
    expect(vapour.quality).toBeCloseTo(0.995, 3);
    expect(vapour.superheat).toBe(0);
    expect(vapour.s).toBeCloseTo(s, 6);
  });

  test('enthalpy, entropy and volume are those of the mixture', () => {
    medium.saturationAt(300, at);
    medium.vapour(at.z, 0, vapour);
    const dry = { h: vapour.h, s: vapour.s, v: 1 / vapour.rho };
    const latent = dry.h - at.hLiquid;
    medium.vapourOfEnthalpy(at.z, dry.h - 0.04 * latent, vapour);
    expect(vapour.quality).toBeCloseTo(0.96, 9);
    expect(vapour.s).toBeCloseTo(dry.s - (0.04 * latent) / at.T, 6);
    expect(1 / vapour.rho).toBeCloseTo(0.96 * dry.v + 0.04 / at.rhoLiquid, 9);
    medium.vapourOfEntropy(at.z, vapour.s, vapour);
    expect(vapour.quality).toBeCloseTo(0.96, 9);
    medium.vapourOfEnthalpy(at.z, dry.h + 2000, vapour);
    expect(vapour.quality).toBe(1);
    expect(vapour.superheat).toBeGreaterThan(1);
  });
});
