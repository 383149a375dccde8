/** The plant's own account over an emulated day: no refrigerant and no energy appears or goes. */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { readFault } from '../../../agent/plant/faults.ts';
import { InterstageMachine } from '../../../agent/plant/interstage-machine.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';

const MACHINES = [
  ['CH-1', (seed: number) => new ParallelMachine(CH1, seed)],
  ['CH-2', (seed: number) => new InterstageMachine(CH2, seed)],
] as const;

const AILING = [
  'economizer_compressor_off:1@40000..50000',
  'sticking_valve/tank_valve:3@20000..30000',
  'badly_tuned_level_loop/condenser_valve:8@10000..15000',
  'undercharge:6@5000..60000',
  'non_condensables:12@30000..70000',
  'liquid_carry_over:3@52000..56000',
  'machine_stop:1@62000..72000',
  'held_load:6@76000..84000',
];

test.each(MACHINES)(
  '%s: a day with stops, leaks, air and little load closes: mass to 1e-9, energy in less out equals what is stored to 1e-6 of the change and 1e-9 of what passed',
  (_name, build) => {
    const machine = build(3);
    const faults = AILING.map((text) => must(readFault(text, machine.points)));
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
    let stood = 0;
    plant.listeners.push({
      second: () => {
        cooling += Math.max(0, circuit.evaporatorHeat);
        work += circuit.gas.electric;
        if (!circuit.gas.turning) stood += 1;
      },
    });
    plant.advance(86_400);
    const passed = balances.throughput() - before.passed;
    const net = balances.netEnergyIn() - before.net;
    const stored = balances.storedEnergy() - before.stored;
    // The account has really seen the day: chilled water and power, integrated beside it, are in what passed.
    expect(passed / (2 * (cooling + work))).toBeGreaterThan(0.97);
    expect(passed / (2 * (cooling + work))).toBeLessThan(1.03);
    expect(stood).toBeGreaterThan(9000);
    expect(Math.abs(stored)).toBeGreaterThan(1e5);
    // What leaked was filled in again.
    expect(Math.abs(balances.refrigerantAdded() / before.mass)).toBeLessThan(1e-9);
    expect(Math.abs(balances.refrigerantMass() / before.mass - 1)).toBeLessThan(1e-9);
    expect(Math.abs(net - stored) / Math.abs(stored)).toBeLessThan(1e-6);
    expect(Math.abs(net - stored) / passed).toBeLessThan(1e-9);
  },
);

test.each(MACHINES)('%s: a leak is in the account while it lasts', (_name, build) => {
  const machine = build(3);
  const faults = [must(readFault('undercharge:8@600', machine.points))];
  const plant = new Plant({ machine, seed: 3, start: Date.UTC(2026, 6, 1, 14), faults, warmUp: 3600 });
  const full = machine.balances.refrigerantMass();
  plant.advance(600 + 120);
  expect(machine.balances.refrigerantAdded() / full).toBeCloseTo(-0.04, 3);
  expect((machine.balances.refrigerantMass() - machine.balances.refrigerantAdded()) / full).toBeCloseTo(1, 9);
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

test.each(MACHINES)(
  '%s starts near steady: in its first ten minutes levels stay within 3 %, capacity within 4 %',
  (_name, build) => {
    const machine = build(5);
    const plant = new Plant({ machine, seed: 5, start: Date.UTC(2026, 6, 1, 13), faults: [] });
    const { circuit } = machine;
    const first = { condenser: circuit.condenserLevel, tank: circuit.tankLevel, heat: circuit.evaporatorHeat };
    for (let minute = 0; minute < 10; minute++) {
      plant.advance(60);
      expect(Math.abs(circuit.condenserLevel - first.condenser)).toBeLessThan(0.03);
      expect(Math.abs(circuit.tankLevel - first.tank)).toBeLessThan(0.03);
      expect(Math.abs(circuit.evaporatorHeat / first.heat - 1)).toBeLessThan(0.04);
      expect(circuit.gas.tankVapour).toBeGreaterThan(0.5);
    }
  },
);

test.each(MACHINES)(
  '%s: the economizer is staged off and on in a summer day, not more often than its least time allows',
  (_name, build) => {
    const machine = build(1);
    const plant = new Plant({ machine, seed: 1, start: Date.UTC(2026, 6, 1), faults: [] });
    const changes: number[] = [];
    const on = (): boolean => machine.circuit.gas.tankVapour > 0.05;
    let was = on();
    plant.listeners.push({
      second: () => {
        if (on() === was) return;
        was = on();
        changes.push(plant.elapsed);
      },
    });
    plant.advance(86_400);
    expect(changes.length).toBeGreaterThanOrEqual(1);
    expect(changes.length).toBeLessThanOrEqual(8);
    // The vapour line takes its time to open and shut.
    for (let i = 1; i < changes.length; i++) expect(changes[i]! - changes[i - 1]!).toBeGreaterThanOrEqual(1100);
  },
);
