/**
 * Worked examples of textbooks by the forward calculation. Their property tables are rounded (R-134a of Cengel & Boles
 * to 0.01 kJ/kg with pressures as table rows: 0.06 kJ/kg; Moran & Shapiro use an older equation: 1.5 %), which sets the
 * tolerances.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { WATTS_PER_TON } from '../../../agent/base/units.ts';
import { type Design, design } from '../../../agent/cycle/design.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { R134a } from '../../unit/cycle/given.ts';

/** Tables of Cengel & Boles and Moran & Shapiro: h = 0 for saturated liquid at -40 degC. kJ/kg, kJ/(kg K). */
const ZERO = must(R134a.TQ(233.15, 0));
const h = (d: Design, node: string) => ((d.states[node]?.h as number) - ZERO.h) / 1e3;
const s = (d: Design, node: string) => ((d.states[node]?.s as number) - ZERO.s) / 1e3;
const solve = (record: object) => must(design({ refrigerant: 'R134a', ...record }));
const within = (found: number, printed: number, share: number) =>
  expect(Math.abs(found / printed - 1), `${found} against ${printed}`).toBeLessThan(share);

const IDEAL = [{ isentropic_efficiency: 1 }];

describe('Cengel & Boles, two stages with flash chamber: example 11-4 of the 5th edition, 11-5 of the 8th', () => {
  const found = solve({
    arrangement: 'parallel',
    evaporator: { p: 140e3 },
    tanks: [{ p: 320e3 }],
    condenser: { p: 800e3 },
    compressors: [...IDEAL, ...IDEAL],
    flow: 1,
  });

  test('flash fraction 0.2049', () => {
    expect(found.metrics['flash_tank.flash_fraction']).toBeCloseTo(0.2049, 4);
    expect(found.states['4']?.q).toBeCloseTo(0.2049, 4);
  });

  test('states: 239.16 and 0.94456 suction, 251.88 tank vapour, 95.47 condensed, 55.16 tank liquid', () => {
    expect(Math.abs(h(found, '1') - 239.16)).toBeLessThan(0.06);
    expect(Math.abs(s(found, '1') - 0.94456)).toBeLessThan(0.0003);
    expect(Math.abs(h(found, '7') - 251.88)).toBeLessThan(0.06);
    expect(Math.abs(h(found, '3') - 95.47)).toBeLessThan(0.06);
    expect(h(found, '4')).toBeCloseTo(h(found, '3'), 9);
    expect(Math.abs(h(found, '5') - 55.16)).toBeLessThan(0.06);
    expect(h(found, '6')).toBeCloseTo(h(found, '5'), 9);
  });

  test('heat removed 146.3 kJ per kg through the condenser', () => {
    const perKilogram = found.capacity / (found.metrics['condenser.mass_flow'] as number) / 1e3;
    expect(Math.abs(perKilogram - 146.3)).toBeLessThan(0.1);
  });
});

test('Cengel & Boles example 11-1: 7.18 and 1.81 kW, COP 3.97, h 239.16, 275.39, 95.47', () => {
  const found = solve({
    arrangement: 'simple',
    evaporator: { p: 140e3 },
    condenser: { p: 800e3 },
    compressors: IDEAL,
    flow: 0.05,
  });
  expect(Math.abs(h(found, '1') - 239.16)).toBeLessThan(0.06);
  // entropy rounded to 1e-5 and read between rows
  expect(Math.abs(h(found, '2') - 275.39)).toBeLessThan(0.1);
  expect(Math.abs(h(found, '3') - 95.47)).toBeLessThan(0.06);
  expect(Math.abs(found.capacity / 1e3 - 7.18)).toBeLessThan(0.01);
  expect(Math.abs(found.power / 1e3 - 1.81)).toBeLessThan(0.01);
  expect((found.capacity + found.power) / 1e3).toBeCloseTo(8.99, 2);
  expect(Math.abs(found.cop - 3.97)).toBeLessThan(0.01);
});

test('Cengel & Boles example 11-2, actual cycle: 7.93 and 2.02 kW, efficiency 0.939, COP 3.93', () => {
  const found = solve({
    arrangement: 'simple',
    states: { 1: { p: 140e3, T: 263.15 }, 2: { p: 800e3, T: 323.15 }, 3: { p: 720e3, T: 299.15 } },
    flow: 0.05,
  });
  expect(Math.abs(h(found, '1') - 246.36)).toBeLessThan(0.1);
  expect(Math.abs(h(found, '2') - 286.69)).toBeLessThan(0.1);
  // the book takes saturated liquid at 26 degC for the slightly subcooled one
  expect(Math.abs(h(found, '3') - 87.83)).toBeLessThan(0.1);
  expect(Math.abs(found.capacity / 1e3 - 7.93)).toBeLessThan(0.01);
  expect(Math.abs(found.power / 1e3 - 2.02)).toBeLessThan(0.01);
  // (284.21 - 246.36)/(286.69 - 246.36): 0.1 kJ/kg of the tables is 0.0025
  expect(Math.abs((found.metrics['main_compressor.isentropic_efficiency'] as number) - 0.939)).toBeLessThan(0.003);
  expect(Math.abs(found.cop - 3.93)).toBeLessThan(0.005);
});

describe('Moran & Shapiro, 0.08 kg/s of R-134a', () => {
  const ton = (d: Design) => d.capacity / WATTS_PER_TON;

  test('example 10.1, 0 and 26 degC ideal: 1.4 kW, 3.67 tons, COP 9.24, condenser 6.853 bar', () => {
    const found = solve({
      arrangement: 'simple',
      evaporator: { T: 273.15 },
      condenser: { T: 299.15 },
      compressors: IDEAL,
      flow: 0.08,
    });
    within(found.power, 1.4e3, 0.015);
    within(ton(found), 3.67, 0.015);
    within(found.cop, 9.24, 0.015);
    within(found.states['2']?.p as number, 6.853e5, 0.001);
  });

  test('example 10.2, -10 degC and 9 bar: 2.48 kW, 3.23 tons, COP 4.57', () => {
    const found = solve({
      arrangement: 'simple',
      evaporator: { T: 263.15 },
      condenser: { p: 900e3 },
      compressors: IDEAL,
      flow: 0.08,
    });
    within(found.power, 2.48e3, 0.015);
    within(ton(found), 3.23, 0.015);
    within(found.cop, 4.57, 0.015);
  });

  test('example 10.3, efficiency 0.8, liquid at 30 degC: 3.10 kW, 3.41 tons, COP 3.86', () => {
    const bubble = must(R134a.bubbleTemperature(900e3));
    const found = solve({
      arrangement: 'simple',
      evaporator: { T: 263.15 },
      condenser: { p: 900e3, subcooling: bubble - 303.15 },
      compressors: [{ isentropic_efficiency: 0.8 }],
      flow: 0.08,
    });
    within(found.power, 3.1e3, 0.015);
    within(ton(found), 3.41, 0.015);
    within(found.cop, 3.86, 0.015);
    expect(found.metrics['condenser.subcooling']).toBeCloseTo(bubble - 303.15, 9);
  });
});

test('Hundy, Trott & Welch example 2.1, R-134a at -5 and 35 degC: h 395.6, 249.7, 422.5, COP 5.4 (two figures)', () => {
  const found = solve({
    arrangement: 'simple',
    evaporator: { T: 268.15 },
    condenser: { T: 308.15 },
    compressors: IDEAL,
    flow: 1,
  });
  // same reference state as the equation; the printed liquid enthalpy is 0.7 kJ/kg above every table of it
  expect(Math.abs((found.states['1']?.h as number) / 1e3 - 395.6)).toBeLessThan(0.1);
  expect(Math.abs((found.states['3']?.h as number) / 1e3 - 249.7)).toBeLessThan(0.8);
  expect(Math.abs((found.states['2']?.h as number) / 1e3 - 422.5)).toBeLessThan(0.1);
  expect(Math.abs(found.cop - 5.4)).toBeLessThan(0.06);
});

test('Stoecker, Industrial Refrigeration Handbook, chapter 3: R-22 at -30 and 35 degC, 36.1 kW (100 kW of cooling reproduces it)', () => {
  const found = solve({
    refrigerant: 'R22',
    arrangement: 'simple',
    evaporator: { T: 243.15 },
    condenser: { T: 308.15 },
    compressors: IDEAL,
    capacity: 100e3,
  });
  within(found.power, 36.1e3, 0.004);
});

test('isentropic discharge of R-123, R-1233zd(E), R-1234ze(E) from 5 to 37 degC ends wet: 0.998, 0.995, 0.989 (computed with CoolProp 8.0.0)', () => {
  for (const [name, quality] of [
    ['R123', 0.998],
    ['R1233zdE', 0.995],
    ['R1234zeE', 0.989],
  ] as const) {
    const found = solve({
      refrigerant: name,
      arrangement: 'simple',
      evaporator: { T: 278.15 },
      condenser: { T: 310.15 },
      compressors: IDEAL,
      flow: 1,
    });
    expect(found.states['2']?.q, name).toBeCloseTo(quality, 3);
    expect(found.states['2']?.T).toBeCloseTo(310.15, 6);
    expect(found.metrics['main_compressor.isentropic_efficiency']).toBeCloseTo(1, 9);
    expect(must(refrigerant(name)).name).toBe(name);
  }
});
