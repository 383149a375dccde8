/**
 * CH-1 at rest: near the reference cycle at design, and moving the right way when the world moves (common practice, no
 * source).
 */
import { describe, expect, test } from 'vitest';
import { type Conditions, steady } from './steady.ts';

const known = new Map<string, ReturnType<typeof steady>>();
function at(conditions: Conditions): ReturnType<typeof steady> {
  const key = JSON.stringify(conditions);
  if (!known.has(key)) known.set(key, steady(conditions));
  return known.get(key)!;
}

const DESIGN = { tons: 1500, condenserWater: 29.4 };

describe('at 1500 tons and 29.4 C condenser water', () => {
  const { metrics, circuit } = at(DESIGN);

  // Reference cycle, R-134a, 5/37/20 C, 4 K subcooling, 0.83 and 0.74: x4 0.10207, x6 0.10638, 747.4 + 47.5 kW, saving
  // 5.02 % (CoolProp 8.0.0).
  test.each([
    ['evaporator.saturation_temperature', 5, 0.5],
    ['condenser.saturation_temperature', 37, 0.7],
    ['flash_tank.saturation_temperature', 20, 0.8],
    ['condenser.subcooling', 4, 0.7],
    ['flash_tank.flash_fraction', 0.10207, 0.01],
    ['evaporator.flash_fraction', 0.10638, 0.01],
    ['main_compressor.isentropic_efficiency_flange', 0.83, 0.01],
    ['economizer_compressor.isentropic_efficiency_flange', 0.74, 0.01],
    ['economizer.saving_fraction', 0.0502, 0.01],
  ])('%s is near %f', (name, value, within) => {
    expect(Math.abs(metrics[name]! - value)).toBeLessThan(within);
  });

  test('it makes what is asked, at the power of the reference cycle over drive efficiency within 6 %', () => {
    expect(Math.abs(metrics['unit.capacity']! / (1500 * 3.516853) - 1)).toBeLessThan(0.002);
    expect(Math.abs(circuit.main.shaftPower / 747.4e3 - 1)).toBeLessThan(0.06);
    const share = metrics['economizer_compressor.power_share']!;
    expect(share).toBeGreaterThan(0.05);
    expect(share).toBeLessThan(0.08);
  });

  test('the saving is that of the flows themselves: power now against the flow that direct expansion would need', () => {
    const { main, economizer, tankValveFlow, leavingVapour, sump, tank } = circuit;
    const perKilogram = main.electricPower / tankValveFlow;
    const effect = tankValveFlow * (leavingVapour.h - tank.saturation.hLiquid);
    const direct = (effect / (leavingVapour.h - sump.h)) * perKilogram;
    const saved = 1 - (main.electricPower + economizer.electricPower) / direct;
    expect(Math.abs(metrics['economizer.saving_fraction']! - saved)).toBeLessThan(5e-4);
    expect(economizer.massFlow / (economizer.massFlow + tankValveFlow)).toBeCloseTo(
      metrics['flash_tank.flash_fraction']!,
      3,
    );
  });

  test('levels stand at their set points, valves inside their stroke', () => {
    expect(Math.abs(circuit.condenserLevel - 0.5)).toBeLessThan(0.01);
    expect(Math.abs(circuit.tankLevel - 0.45)).toBeLessThan(0.01);
    for (const valve of [circuit.condenserValve, circuit.tankValve]) {
      expect(valve.position).toBeGreaterThan(0.2);
      expect(valve.position).toBeLessThan(0.8);
    }
  });

  test('at rest what enters each vessel leaves it', () => {
    const { main, economizer, condenserValveFlow, tankValveFlow, motorCoolingFlow } = circuit;
    // Valves rest within a dead band, so levels still creep: 0.3 % of stroke at 43 % opening.
    expect(Math.abs((tankValveFlow + motorCoolingFlow) / main.massFlow - 1)).toBeLessThan(0.008);
    expect(Math.abs(condenserValveFlow / (tankValveFlow + economizer.massFlow) - 1)).toBeLessThan(0.008);
    expect(Math.abs(metrics['unit.heat_balance_error']!)).toBeLessThan(0.005);
  });
});

test('warmer condenser water: more lift, more head, more power, more flash', () => {
  const cool = at({ tons: 1200, condenserWater: 24 }).metrics;
  const warm = at({ tons: 1200, condenserWater: 28 }).metrics;
  for (const name of [
    'main_compressor.lift',
    'main_compressor.isentropic_head',
    'unit.power',
    'unit.kw_per_ton',
    'evaporator.flash_fraction',
    'economizer_compressor.power',
  ])
    expect(warm[name]).toBeGreaterThan(cool[name]!);
  expect(Math.abs(warm['unit.capacity']! / cool['unit.capacity']! - 1)).toBeLessThan(0.005);
});

test('more load: more flow, closer lines and larger approaches', () => {
  const low = at({ tons: 900, condenserWater: 26 }).metrics;
  const high = at({ tons: 1400, condenserWater: 26 }).metrics;
  for (const name of [
    'main_compressor.mass_flow',
    'evaporator.approach',
    'condenser.approach',
    'unit.power',
    'condenser.subcooling',
  ])
    expect(high[name]).toBeGreaterThan(low[name]!);
  expect(high['evaporator.saturation_temperature']).toBeLessThan(low['evaporator.saturation_temperature']!);
});

test('warmer chilled water: less lift and less power', () => {
  const cold = at({ tons: 1200, condenserWater: 27, leaving: 5.5 }).metrics;
  const mild = at({ tons: 1200, condenserWater: 27, leaving: 8.5 }).metrics;
  expect(mild['main_compressor.lift']).toBeLessThan(cold['main_compressor.lift']!);
  expect(mild['unit.power']).toBeLessThan(cold['unit.power']!);
});

test('economizer compressor off: the tank floats up to the liquid temperature, the same capacity costs 2 to 8 % more', () => {
  const on = at({ tons: 1300, condenserWater: 28 });
  const off = at({ tons: 1300, condenserWater: 28, economizer: false });
  expect(off.circuit.economizer.massFlow).toBe(0);
  expect(off.circuit.economizer.electricPower).toBe(0);
  expect(Math.abs(off.circuit.tank.saturation.T - off.circuit.sump.T)).toBeLessThan(0.3);
  expect(off.metrics['flash_tank.flash_fraction']).toBeNull();
  expect(off.metrics['evaporator.flash_fraction']).toBeGreaterThan(0.15);
  const ratio = off.metrics['unit.power']! / on.metrics['unit.power']!;
  expect(ratio).toBeGreaterThan(1.02);
  expect(ratio).toBeLessThan(1.08);
  expect(off.circuit.main.volumeFlow / on.circuit.main.volumeFlow).toBeGreaterThan(1.07);
});

test('what the solver does not assume is there: line drops, superheat, motor cooling', () => {
  const { circuit } = at(DESIGN);
  const { main, evaporator, condenser, motorCoolingFlow } = circuit;
  expect(evaporator.saturation.p - main.suctionPressure).toBeGreaterThan(500);
  expect(main.dischargePressure - condenser.saturation.p).toBeGreaterThan(1000);
  expect(circuit.leavingVapour.superheat).toBeCloseTo(2, 6);
  expect(motorCoolingFlow / main.massFlow).toBeGreaterThan(0.003);
  expect(circuit.unitPower).toBeGreaterThan(main.electricPower + circuit.economizer.electricPower);
});
