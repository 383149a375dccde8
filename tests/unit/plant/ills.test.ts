/**
 * Machine faults: the direction in which the tell-tale quantities move at equal load and water temperatures, and what
 * stays. Source of the directions: physics, no published figure (compare Comstock & Braun, ASHRAE RP-1043, for machines
 * with other metering devices).
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { FAULTS, readFault } from '../../../agent/plant/faults.ts';
import { InterstageMachine } from '../../../agent/plant/interstage-machine.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import type { MetricValues } from '../../../agent/plant/machine.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';

const START = Date.UTC(2026, 6, 1, 14);
const MACHINES = [
  ['CH-1', (seed: number) => new ParallelMachine(CH1, seed)],
  ['CH-2', (seed: number) => new InterstageMachine(CH2, seed)],
] as const;
type Build = (typeof MACHINES)[number][1];

function plantOf(build: Build, ...texts: string[]) {
  const machine = build(7);
  const faults = texts.map((text) => must(readFault(text, machine.points)));
  return { plant: new Plant({ machine, seed: 7, start: START, faults, warmUp: 5400 }), machine };
}

/** Truth two hours in. */
function after(build: Build, ...texts: string[]) {
  const { plant, machine } = plantOf(build, ...texts);
  plant.advance(7200);
  const out: MetricValues = {};
  machine.metrics(out);
  const readings = Object.fromEntries(Object.entries(machine.readings).map(([name, read]) => [name, read()]));
  return { metrics: out as Record<string, number>, readings, machine };
}

const healthy = new Map<Build, ReturnType<typeof after>>();
function sound(build: Build) {
  if (!healthy.has(build)) healthy.set(build, after(build));
  return healthy.get(build)!;
}

describe.each(MACHINES)('%s', (_name, build) => {
  const before = () => sound(build);

  test('fouled condenser: its approach and pressure rise, the evaporator does not feel it', () => {
    const ill = after(build, 'fouled_condenser:30@0');
    const was = before();
    expect(ill.metrics['condenser.approach']! - was.metrics['condenser.approach']!).toBeGreaterThan(0.8);
    expect(ill.metrics['condenser.ua']).toBeLessThan(0.8 * was.metrics['condenser.ua']!);
    expect(ill.readings['condenser.pressure']).toBeGreaterThan(was.readings['condenser.pressure']!);
    expect(ill.metrics['unit.kw_per_ton']! / was.metrics['unit.kw_per_ton']!).toBeGreaterThan(1.02);
    expect(Math.abs(ill.metrics['evaporator.approach']! - was.metrics['evaporator.approach']!)).toBeLessThan(0.05);
  });

  test('undercharge: missing from the evaporator, whose approach and superheat rise; levels and subcooling stay', () => {
    const ill = after(build, 'undercharge:10@0');
    const was = before();
    expect(ill.metrics['evaporator.approach']! - was.metrics['evaporator.approach']!).toBeGreaterThan(0.15);
    expect(ill.metrics['main_compressor.suction_superheat']).toBeGreaterThan(
      was.metrics['main_compressor.suction_superheat']! + 0.5,
    );
    expect(Math.abs(ill.metrics['condenser.subcooling']! - was.metrics['condenser.subcooling']!)).toBeLessThan(0.15);
    expect(Math.abs(ill.readings['condenser.level']! - was.readings['condenser.level']!)).toBeLessThan(0.03);
    const { balances } = ill.machine;
    const full = balances.refrigerantMass() - balances.refrigerantAdded();
    expect(balances.refrigerantAdded() / full).toBeCloseTo(-0.1, 6);
  });

  test('air: pressure above saturation at an unchanged liquid temperature; approach and subcooling seem to rise', () => {
    const ill = after(build, 'non_condensables:10@0');
    const was = before();
    const { condenser } = ill.machine.circuit;
    const over = ill.readings['condenser.pressure']! - condenser.saturation.p;
    // 10 kPa in the volume at design; the vapour is a little cooler now.
    expect(over).toBeGreaterThan(9e3);
    expect(over).toBeLessThan(10.5e3);
    expect(ill.metrics['condenser.subcooling']! - was.metrics['condenser.subcooling']!).toBeGreaterThan(0.3);
    expect(ill.metrics['condenser.approach']! - was.metrics['condenser.approach']!).toBeGreaterThan(0.3);
    const liquid = ill.readings['condenser.liquid_temperature']! - was.readings['condenser.liquid_temperature']!;
    expect(Math.abs(liquid)).toBeLessThan(0.35);
    expect(ill.metrics['unit.kw_per_ton']).toBeGreaterThan(was.metrics['unit.kw_per_ton']!);
  });

  test('a stop with air in the condenser shows it: pressure above that of the temperature of all', () => {
    const { plant, machine } = plantOf(build, 'non_condensables:10@0', 'machine_stop:1@600');
    plant.advance(6 * 3600);
    const { condenser, evaporator } = machine.circuit;
    expect(Math.abs(condenser.saturation.T - evaporator.saturation.T)).toBeLessThan(0.15);
    expect(machine.readings['condenser.pressure']!() - machine.readings['evaporator.pressure']!()).toBeGreaterThan(7e3);
  });

  test.each(['condenser_valve', 'tank_valve'] as const)(
    'a badly tuned loop of the %s swings and goes on swinging',
    (valve) => {
      const swing = (...faults: string[]) => {
        const { plant, machine } = plantOf(build, ...faults);
        const { circuit } = machine;
        plant.advance(1800);
        const levels: number[] = [];
        let reversals = 0;
        let heading = 0;
        let last = 0;
        for (let i = 0; i < 1800; i++) {
          plant.advance(1);
          levels.push(valve === 'tank_valve' ? circuit.tankLevel : circuit.condenserLevel);
          const { position } = valve === 'tank_valve' ? circuit.tankValve : circuit.condenserValve;
          const now = Math.sign(position - last);
          if (now !== 0 && heading !== 0 && now !== heading) reversals += 1;
          if (now !== 0) heading = now;
          last = position;
        }
        return { level: Math.max(...levels) - Math.min(...levels), reversals };
      };
      const tuned = swing();
      const loose = swing(`badly_tuned_level_loop/${valve}:8@0`);
      expect(tuned.level).toBeLessThan(0.03);
      expect(loose.level).toBeGreaterThan(0.035);
      // About one swing a minute over half an hour.
      expect(loose.reversals).toBeGreaterThan(40);
      expect(loose.reversals).toBeLessThan(100);
      expect(tuned.reversals).toBeLessThan(40);
    },
  );

  test('severity 0 of every fault is no fault', () => {
    const raws = (...texts: string[]) => {
      const { plant } = plantOf(build, ...texts);
      plant.advance(600);
      return [...plant.sensors.values()].map(({ raw, objectFault }) => [raw, objectFault]);
    };
    const names = Object.entries(FAULTS)
      .filter(
        ([name, { target, range }]) =>
          range[0] === 0 && (target === 'none' || target === 'valve') && name !== 'worn_economizer_compressor',
      )
      .map(([name, { target }]) => `${name}${target === 'valve' ? '/tank_valve' : ''}:0@0`);
    expect(names.length).toBeGreaterThanOrEqual(8);
    expect(raws(...names)).toEqual(raws());
  });
});

test('worn economizer compressor: more power and a hotter discharge for the same vapour, less saved; CH-2 has none', () => {
  const build = MACHINES[0][1];
  const ill = after(build, 'worn_economizer_compressor:15@0');
  const was = sound(build);
  expect(ill.metrics['economizer_compressor.power']! / was.metrics['economizer_compressor.power']!).toBeGreaterThan(
    1.1,
  );
  expect(ill.metrics['economizer_compressor.isentropic_efficiency']).toBeLessThan(
    was.metrics['economizer_compressor.isentropic_efficiency']! - 0.08,
  );
  const hotter =
    ill.readings['economizer_compressor.discharge_temperature']! -
    was.readings['economizer_compressor.discharge_temperature']!;
  expect(hotter).toBeGreaterThan(1);
  expect(ill.metrics['economizer.saving_fraction']).toBeLessThan(was.metrics['economizer.saving_fraction']!);
  expect(
    Math.abs(ill.metrics['flash_tank.flash_fraction']! / was.metrics['flash_tank.flash_fraction']! - 1),
  ).toBeLessThan(0.02);
  const none = readFault('worn_economizer_compressor:15@0', CH2.points);
  expect(none.ok).toBe(false);
  if (!none.ok) expect(none.fault.message).toMatch(/no economizer compressor/);
});

test.each([
  ['CH-1', MACHINES[0][1], 'economizer_compressor.discharge_temperature', 3],
  ['CH-2', MACHINES[1][1], 'main_compressor.discharge_temperature', 0.4],
] as const)(
  'liquid carried over, %s: the discharge that takes it is cooler, the efficiency stays what it is',
  (_name, build, point, by) => {
    const ill = after(build, 'liquid_carry_over:4@0');
    const was = sound(build);
    expect(was.readings[point]! - ill.readings[point]!).toBeGreaterThan(by);
    expect(
      Math.abs(
        ill.metrics['main_compressor.polytropic_efficiency']! - was.metrics['main_compressor.polytropic_efficiency']!,
      ),
    ).toBeLessThan(0.002);
    expect(
      Math.abs(ill.metrics['economizer.saving_fraction']! - was.metrics['economizer.saving_fraction']!),
    ).toBeLessThan(0.006);
  },
);
