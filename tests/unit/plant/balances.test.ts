/** The plant's own account over an emulated day: no refrigerant and no energy appears or goes. */
import { expect, test } from 'vitest';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';

test('a day closes: mass to 1e-9, energy in less out equals what is stored to 1e-6 of the change and 1e-9 of what passed', () => {
  const machine = new ParallelMachine(CH1, 3);
  const faults = [
    { name: 'economizer_compressor_off', target: '', severity: 1, start: 40_000, end: 50_000 },
    { name: 'sticking_valve', target: 'tank_valve', severity: 3, start: 20_000, end: 30_000 },
  ] as const;
  const plant = new Plant({ machine, seed: 3, start: Date.UTC(2026, 6, 1), faults });
  const { balances, circuit } = machine;
  const before = {
    mass: balances.refrigerantMass(),
    stored: balances.storedEnergy(),
    net: balances.netEnergyIn(),
    passed: balances.throughput(),
  };
  let cooling = 0;
  let work = 0;
  plant.listeners.push({
    second: () => {
      cooling += circuit.evaporatorHeat;
      work += circuit.main.electricPower + circuit.economizer.electricPower;
    },
  });
  plant.advance(86_400);
  const passed = balances.throughput() - before.passed;
  const net = balances.netEnergyIn() - before.net;
  const stored = balances.storedEnergy() - before.stored;
  // The account has really seen the day: chilled water and power, integrated beside it, are in what passed.
  expect(passed / (2 * (cooling + work))).toBeGreaterThan(0.98);
  expect(passed / (2 * (cooling + work))).toBeLessThan(1.02);
  expect(Math.abs(stored)).toBeGreaterThan(1e5);
  expect(Math.abs(balances.refrigerantMass() / before.mass - 1)).toBeLessThan(1e-9);
  expect(Math.abs(net - stored) / Math.abs(stored)).toBeLessThan(1e-6);
  expect(Math.abs(net - stored) / passed).toBeLessThan(1e-9);
});

test('the pressures found are those that hold the mass and the energy', () => {
  const machine = new ParallelMachine(CH1, 4);
  const plant = new Plant({ machine, seed: 4, start: Date.UTC(2026, 6, 1, 13), faults: [], warmUp: 1800 });
  plant.advance(60);
  const metal = [CH1.machine.evaporator.metal, CH1.machine.tank.metal, CH1.machine.condenser.metal];
  [machine.circuit.evaporator, machine.circuit.tank, machine.circuit.condenser].forEach((vessel, i) => {
    const at = vessel.saturation;
    const liquid = (1 - vessel.quality) * vessel.mass;
    const vapour = vessel.quality * vessel.mass;
    expect((liquid / at.rhoLiquid + vapour / at.rhoVapour) / vessel.volume).toBeCloseTo(1, 9);
    const energy = liquid * at.hLiquid + vapour * at.hVapour - at.p * vessel.volume + metal[i]! * at.T;
    expect(energy / vessel.energy).toBeCloseTo(1, 9);
  });
});

test('it starts near steady: in its first ten minutes levels stay within 3 %, capacity within 4 %', () => {
  const machine = new ParallelMachine(CH1, 5);
  const plant = new Plant({ machine, seed: 5, start: Date.UTC(2026, 6, 1, 13), faults: [] });
  const { circuit } = machine;
  const first = { condenser: circuit.condenserLevel, tank: circuit.tankLevel, heat: circuit.evaporatorHeat };
  for (let minute = 0; minute < 10; minute++) {
    plant.advance(60);
    expect(Math.abs(circuit.condenserLevel - first.condenser)).toBeLessThan(0.03);
    expect(Math.abs(circuit.tankLevel - first.tank)).toBeLessThan(0.03);
    expect(Math.abs(circuit.evaporatorHeat / first.heat - 1)).toBeLessThan(0.04);
    expect(circuit.economizer.running).toBe(true);
  }
});

test('the economizer compressor is staged off and on in a summer day, not more often than its least time allows', () => {
  const machine = new ParallelMachine(CH1, 1);
  const plant = new Plant({ machine, seed: 1, start: Date.UTC(2026, 6, 1), faults: [] });
  const changes: number[] = [];
  let running = machine.circuit.economizer.running;
  plant.listeners.push({
    second: () => {
      if (machine.circuit.economizer.running === running) return;
      running = machine.circuit.economizer.running;
      changes.push(plant.elapsed);
    },
  });
  plant.advance(86_400);
  expect(changes.length).toBeGreaterThanOrEqual(1);
  expect(changes.length).toBeLessThanOrEqual(8);
  for (let i = 1; i < changes.length; i++) expect(changes[i]! - changes[i - 1]!).toBeGreaterThanOrEqual(1200);
});
