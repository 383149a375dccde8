/**
 * Two stages with a flash tank between them: worked examples of textbooks, and figures computed with CoolProp 8.0.0
 * where a line says so. R-134a of Cengel & Boles is printed to 0.01 kJ/kg with pressures as table rows: 0.06 kJ/kg.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import type { Circuit } from '../../../agent/cycle/arrangements/type.ts';
import { energyResidual, solveFlows } from '../../../agent/cycle/balances.ts';
import { type Design, design } from '../../../agent/cycle/design.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { R134a } from '../../unit/cycle/given.ts';

/** Tables of Cengel & Boles: h = s = 0 for saturated liquid at -40 degC. kJ/kg, kJ/(kg K). */
const ZERO = must(R134a.TQ(233.15, 0));
const h = (d: Design, node: string) => ((d.states[node]?.h as number) - ZERO.h) / 1e3;
const s = (d: Design, node: string) => ((d.states[node]?.s as number) - ZERO.s) / 1e3;
const flow = (d: Design, node: string) => d.states[node]?.m as number;
const solve = (record: object) => must(design({ refrigerant: 'R134a', arrangement: 'interstage', ...record }));
const near = (found: number, printed: number, by: number) =>
  expect(Math.abs(found - printed), `${found} against ${printed}`).toBeLessThan(by);
const IDEAL = { isentropic_efficiency: 1 };

describe('Cengel & Boles, example 11-4 of the 5th edition, 11-5 of the 8th: flash chamber between isentropic stages', () => {
  const found = solve({
    evaporator: { p: 140e3 },
    tanks: [{ p: 320e3 }],
    condenser: { p: 800e3 },
    compressors: [IDEAL, IDEAL],
    flow: 1,
  });

  test.each([
    ['1', 239.16],
    ['2', 255.93],
    ['3', 95.47],
    ['5', 55.16],
    ['6', 55.16],
    ['7', 251.88],
    ['9', 255.1],
    ['10', 274.48],
  ])('enthalpy at %s: %d kJ/kg', (node, printed) => near(h(found, node), printed, 0.06));

  test('entropy 0.94456 at the suction, 0.9416 after mixing and at the discharge', () => {
    near(s(found, '1'), 0.94456, 3e-4);
    near(s(found, '9'), 0.9416, 2e-4);
    expect(s(found, '10')).toBeCloseTo(s(found, '9'), 9);
    expect(s(found, '2')).toBeCloseTo(s(found, '1'), 9);
  });

  test('flash fraction 0.2049', () => {
    expect(found.metrics['flash_tank.flash_fraction']).toBeCloseTo(0.2049, 4);
    near(flow(found, '7') / flow(found, '10'), 0.2049, 1e-4);
  });

  test('146.3 and 32.71 kJ per kg through the condenser, COP 4.47', () => {
    const kilograms = flow(found, '3');
    near(found.capacity / kilograms / 1e3, 146.3, 0.05);
    near(found.power / kilograms / 1e3, 32.71, 0.05);
    near(found.cop, 4.47, 0.0065);
  });
});

describe('Cengel & Boles, 7th edition, problem 11-66: stages of 0.86, 0.11 kg/s', () => {
  const given = {
    evaporator: { T: 263.15 },
    tanks: [{ p: 450e3 }],
    condenser: { p: 1600e3 },
    compressors: [{ isentropic_efficiency: 0.86 }, { isentropic_efficiency: 0.86 }],
    flow: 0.11,
  };
  const found = solve(given);

  test.each([
    ['1', 244.51],
    ['2', 263.76],
    ['3', 135.93],
    ['5', 68.81],
    ['7', 257.53],
    ['9', 261.54],
    ['10', 292.78],
  ])('enthalpy at %s: %d kJ/kg', (node, printed) => near(h(found, node), printed, 0.06));

  test('entropy 0.9377 at the suction, 0.9393 after mixing', () => {
    near(s(found, '1'), 0.9377, 1e-4);
    near(s(found, '9'), 0.9393, 2e-4);
  });

  test('0.3557 flashes; 0.1707 and 0.06072 kg/s', () => {
    expect(found.metrics['flash_tank.flash_fraction']).toBeCloseTo(0.3557, 4);
    near(flow(found, '10'), 0.1707, 1e-4);
    near(flow(found, '7'), 0.06072, 3e-5);
    near(flow(found, '2'), 0.11, 1e-12);
  });

  test('19.33 and 7.45 kW, COP 2.594 (from the printed enthalpies)', () => {
    near(found.capacity / 1e3, 19.33, 0.01);
    near(found.power / 1e3, 7.45, 0.01);
    near(found.cop, 2.594, 0.003);
  });

  test('vapour line closed, one stage of 0.86 between the same limits: 11.94 and 5.55 kW, COP 2.15', () => {
    const off = solve({ ...given, economizer: 'off', compressors: [{ isentropic_efficiency: 0.86 }] });
    near(off.capacity / 1e3, 11.94, 0.01);
    near(off.power / 1e3, 5.55, 0.01);
    near(off.cop, 2.15, 0.005);
  });
});

describe('Nag, example 14.6: 100 kW of isentropic power, -10, 10 and 30 degC; an older table, so 2 %', () => {
  test.each([
    ['pressures', { evaporator: { T: 263.15 }, tanks: [{ p: 413.9e3 }], condenser: { p: 767.5e3 } }],
    ['temperatures', { evaporator: { T: 263.15 }, tanks: [{ T: 283.15 }], condenser: { T: 303.15 } }],
  ])('%s: 3.380 kg/s through the evaporator, COP 5.935', (_, levels) => {
    const found = solve({ ...levels, compressors: [IDEAL], power: 100e3 });
    near(found.flow / 3.38, 1, 0.02);
    near(found.cop / 5.935, 1, 0.02);
    expect(found.power).toBeCloseTo(100e3, 6);
  });
});

describe('Stoecker, Industrial Refrigeration Handbook, chapter 3: R-22 at -30 and 35 degC', () => {
  const R22 = must(refrigerant('R22'));
  const [low, high] = [243.15, 308.15].map((T) => must(R22.saturationPressure(T))) as [number, number];
  const power = (p: number) =>
    solve({
      refrigerant: 'R22',
      evaporator: { p: low },
      tanks: [{ p }],
      condenser: { p: high },
      compressors: [IDEAL],
      capacity: 100e3,
    }).power;
  const mean = Math.sqrt(low * high);

  test('the best tank pressure lies above the geometric mean (471 kPa): 547 kPa, 31.48 kW (computed)', () => {
    near(mean / 1e3, 471, 1);
    const pressures = Array.from({ length: 61 }, (_, at) => mean * (0.9 + at * 0.01));
    const powers = pressures.map(power);
    const least = powers.indexOf(Math.min(...powers));
    near((pressures[least] as number) / 1e3, 547, 5);
    near((powers[least] as number) / 1e3, 31.48, 0.005);
  });

  test('the curve is flat: one percent from the geometric mean to 1.3 times the best', () => {
    const best = power(547e3);
    for (const p of [mean, 547e3 * 1.3]) near(power(p) / best, 1, 0.01);
    // and it is well below one stage: 36.1 kW
    expect(best).toBeLessThan(0.88 * 36.1e3);
  });
});

/** Fluid, evaporator and condenser degC, COP of one stage, gain in % by two stages with flash tank, flash fraction. */
const TABLE = [
  ['R134a', 5, 30, 7.811, 5.1, 0.1005],
  ['R134a', 5, 37, 5.846, 7.3, 0.134],
  ['R134a', 5, 45, 4.419, 10.2, 0.176],
  ['R123', 5, 37, 6.211, 5.2, 0.101],
  ['R1233zdE', 5, 37, 6.169, 5.5, 0.105],
  ['R1234zeE', 5, 37, 5.824, 7.8, 0.139],
  ['R22', 5, 37, 5.867, 5.6, 0.115],
  ['R11', 5, 37, 6.335, 3.9, 0.082],
  ['R134a', -10, 40, 3.224, 12.7, 0.208],
] as const;

/** The table's tenths were rounded from hundredths. */
const ROUNDED = 0.0551;

describe('stages of 0.8, tank at the geometric mean pressure, no subcooling (computed with CoolProp 8.0.0)', () => {
  test.each(TABLE)('%s at %d and %d degC', (name, evaporator, condenser, cop, gain, flash) => {
    const fluid = must(refrigerant(name));
    const ends = [evaporator, condenser].map((t) => must(fluid.saturationPressure(t + 273.15))) as [number, number];
    const stage = { isentropic_efficiency: 0.8 };
    const common = { refrigerant: name, evaporator: { p: ends[0] }, condenser: { p: ends[1] }, flow: 1 };
    const tanks = [{ p: Math.sqrt(ends[0] * ends[1]) }];
    const two = solve({ ...common, tanks, compressors: [stage, stage] });
    const one = solve({ ...common, tanks, economizer: 'off', compressors: [stage] });
    expect(one.cop).toBeCloseTo(cop, 3);
    near(100 * (two.cop / one.cop - 1), gain, ROUNDED);
    expect(two.metrics['flash_tank.flash_fraction']).toBeCloseTo(flash, flash === 0.1005 ? 4 : 3);
    // one compression of the stages' polytropic efficiency has less than 0.8 isentropic: that is what is compared with
    const saving = two.metrics['economizer.saving_fraction'] as number;
    expect(saving).toBeGreaterThan(1 - one.cop / two.cop);
    const polytropic_efficiency = two.metrics['main_compressor.polytropic_efficiency'] as number;
    const equal = solve({ ...common, tanks, economizer: 'off', compressors: [{ polytropic_efficiency }] });
    expect(saving).toBeCloseTo(1 - equal.cop / two.cop, 9);
  });

  test.each([
    ['R134a', 5, 37, 1.04],
    ['R123', 5, 37, 1.04],
    ['R134a', -10, 40, 1.11],
    ['R22', -30, 35, 1.17],
  ])('%s at %d and %d degC: best tank pressure %d of the geometric mean', (name, evaporator, condenser, factor) => {
    const fluid = must(refrigerant(name));
    const ends = [evaporator, condenser].map((t) => must(fluid.saturationPressure(t + 273.15))) as [number, number];
    const mean = Math.sqrt(ends[0] * ends[1]);
    const cop = (share: number) =>
      solve({
        refrigerant: name,
        evaporator: { p: ends[0] },
        condenser: { p: ends[1] },
        tanks: [{ p: share * mean }],
        compressors: [{ isentropic_efficiency: 0.8 }],
        flow: 1,
      }).cop;
    const shares = Array.from({ length: 36 }, (_, at) => 0.95 + at * 0.01);
    const cops = shares.map(cop);
    near(shares[cops.indexOf(Math.max(...cops))] as number, factor, 0.021);
    // the mean costs at most 0.3 %
    expect(cop(1) / Math.max(...cops)).toBeGreaterThan(0.997);
  });
});

describe('isentropic discharge inside the dome, 5 to 37 degC from saturated vapour (qualities by CoolProp 8.0.0)', () => {
  test.each([
    ['R123', 0.998],
    ['R1233zdE', 0.995],
    ['R1234zeE', 0.989],
  ])('%s: %d', (name, quality) => {
    const common = { refrigerant: name, evaporator: { T: 278.15 }, condenser: { T: 310.15 }, flow: 1 };
    const off = solve({ ...common, economizer: 'off', compressors: [IDEAL] });
    near(off.states['10']?.q as number, quality, 6e-4);
    expect(off.metrics['main_compressor.polytropic_efficiency']).toBeCloseTo(1, 4);
    const on = solve({ ...common, tanks: [{ T: 293.15 }], compressors: [IDEAL] });
    // the second stage ends as wet; each stage at the entropy it began with
    near(on.states['10']?.q as number, quality, 1.5e-3);
    expect(on.states['2']?.s).toBeCloseTo(on.states['1']?.s as number, 6);
    expect(on.states['10']?.s).toBeCloseTo(on.states['9']?.s as number, 6);
    expect(on.metrics['main_compressor.polytropic_efficiency']).toBeCloseTo(1, 4);
  });

  test('superheated for R-134a, R-22, R-11', () => {
    for (const name of ['R134a', 'R22', 'R11']) {
      const found = solve({
        refrigerant: name,
        evaporator: { T: 278.15 },
        condenser: { T: 310.15 },
        economizer: 'off',
        compressors: [IDEAL],
        flow: 1,
      });
      expect(found.states['10']?.q, name).toBeNull();
    }
  });
});

/**
 * Another topology as a table: the first stage blows into the tank's liquid, the second draws saturated vapour from
 * it. Scilab companion of a refrigeration textbook (FOSSEE TBC 3843), example 8.12, R-12, on its own enthalpies.
 */
test('flash intercooler of that example: 0.8064 kg/s, 81.5 kW, COP 3.38', () => {
  const kJ: Record<string, number> = { 1: 178.6, 2: 196.28, 3: 190.56, 4: 207.3, 5: 76.3, 7: 42.71, 8: 42.71 };
  const circuit: Circuit = {
    nodes: [],
    machines: [],
    liquid: { leaving: [], pools: [] },
    junctions: [
      { name: 'intercooler', enters: ['high_liquid', 'low'], leaves: ['high', 'low_liquid'] },
      {
        name: 'condenser',
        enters: ['high'],
        leaves: ['high_liquid'],
      },
    ],
    balances: [
      {
        name: 'intercooler',
        enters: [
          { stream: 'high_liquid', node: '5' },
          { stream: 'low', node: '2' },
        ],
        leaves: [
          { stream: 'high', node: '3' },
          { stream: 'low_liquid', node: '7' },
        ],
        heat: null,
        work: null,
      },
    ],
  };
  const enthalpy = (node: string) => (kJ[node] as number) * 1e3;
  const flows = solveFlows(circuit, { low: 0.6 }, enthalpy);
  near(flows.high as number, 0.8064, 1e-4);
  expect(flows.low_liquid).toBeCloseTo(0.6, 12);
  const value = (name: string) => (name.startsWith('m:') ? (flows[name.slice(2)] as number) : enthalpy(name.slice(2)));
  expect(Math.abs(energyResidual(circuit.balances[0]!, value))).toBeLessThan(1e-6);
  const cooling = 0.6 * (enthalpy('1') - enthalpy('8'));
  const work = 0.6 * (enthalpy('2') - enthalpy('1')) + (flows.high as number) * (enthalpy('4') - enthalpy('3'));
  near(cooling / 1e3, 81.5, 0.05);
  near(cooling / work, 3.38, 0.005);
});
