import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { readFault } from '../../../agent/plant/faults.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';

const START = Date.UTC(2026, 6, 1, 13);

function plantWith(...texts: string[]): { plant: Plant; machine: ParallelMachine } {
  const machine = new ParallelMachine(CH1, 7);
  const faults = texts.map((text) => must(readFault(text, CH1.points)));
  return { plant: new Plant({ machine, seed: 7, start: START, faults, warmUp: 3600 }), machine };
}

describe('reading', () => {
  test('name, target, severity, start and end', () => {
    expect(must(readFault('sensor_drift/condenser_water.leaving_temperature:-0.8@3600..7200', CH1.points))).toEqual({
      name: 'sensor_drift',
      target: 'condenser_water.leaving_temperature',
      severity: -0.8,
      start: 3600,
      end: 7200,
    });
    expect(must(readFault('lost_communication:2@10', CH1.points)).end).toBe(Number.POSITIVE_INFINITY);
  });

  test.each([
    ['nonsense', /write NAME/],
    ['economiser_off:1@5', /no fault 'economiser_off'.*economizer_compressor_off/],
    ['sensor_drift:1@5', /name the point/],
    ['sensor_drift/condenser.lvl:1@5', /no point 'condenser\.lvl'; --points/],
    ['sticking_valve/main_valve:2@0', /condenser_valve or tank_valve/],
    ['nan_value/evaporator.pressure:1@0', /is int16, not a float/],
    ['economizer_compressor_off/unit.power:1@0', /takes no/],
    ['lost_communication:3@0', /severity/],
    ['sticking_valve/tank_valve:200@0', /severity/],
    ['lost_communication:1@50..40', /ends before/],
  ])('%s is refused and says why', (text, message) => {
    const result = readFault(text, CH1.points);
    expect(result.ok).toBe(false);
    if (!result.ok) {
      expect(result.fault.code).toBe('usage');
      expect(result.fault.message).toMatch(message);
      expect(result.fault.message).toContain(text);
    }
  });
});

test('economizer compressor off, then on again by its own staging', () => {
  const { plant, machine } = plantWith('economizer_compressor_off:1@600..1200');
  plant.advance(599);
  expect(machine.circuit.economizer.running).toBe(true);
  plant.advance(10);
  expect(machine.circuit.economizer.running).toBe(false);
  plant.advance(3600);
  expect(machine.circuit.economizer.running).toBe(true);
});

test('a drifting sensor grows to its severity; the machine does not move unless it is controlled by it', () => {
  const { plant } = plantWith('sensor_drift/condenser_water.leaving_temperature:2@60');
  const sensor = plant.sensors.get('condenser_water.leaving_temperature')!;
  plant.advance(60);
  expect(sensor.drift).toBe(0);
  plant.advance(301);
  expect(sensor.drift).toBeCloseTo(1, 2);
  plant.advance(1200);
  expect(sensor.drift).toBe(2);
  expect(sensor.published - sensor.trueValue()).toBeGreaterThan(1.6);
  expect(sensor.published - sensor.trueValue()).toBeLessThan(2.4);
});

test('a drift of the controlled temperature carries the chilled water with it', () => {
  const { plant, machine } = plantWith('sensor_drift/chilled_water.leaving_temperature:1@0');
  const before = machine.circuit.chilledWater.leaving;
  plant.advance(3600);
  expect(before - machine.circuit.chilledWater.leaving).toBeGreaterThan(0.8);
});

test('a sticking tank valve moves in jumps of at least its friction, and its level swings', () => {
  const travel = (...faults: string[]) => {
    const { plant, machine } = plantWith(...faults);
    const levels: number[] = [];
    const jumps: number[] = [0];
    let last = machine.circuit.tankValve.position;
    plant.listeners.push({
      second: () => {
        const { position } = machine.circuit.tankValve;
        // One jump is all travel without a second of rest.
        if (position === last && jumps.at(-1) !== 0) jumps.push(0);
        jumps[jumps.length - 1]! += Math.abs(position - last);
        last = position;
        levels.push(machine.circuit.tankLevel);
      },
    });
    plant.advance(7200);
    return { jump: jumps.reduce((a, b) => a + b) / jumps.length, swing: Math.max(...levels) - Math.min(...levels) };
  };
  const free = travel();
  const stuck = travel('sticking_valve/tank_valve:4@0');
  expect(free.jump).toBeLessThan(0.015);
  expect(stuck.jump).toBeGreaterThan(0.03);
  expect(stuck.swing).toBeGreaterThan(1.5 * free.swing);
});

test('lost communication by the plant clock', () => {
  const { plant } = plantWith('lost_communication:1@10..20', 'lost_communication:2@30');
  const seen: string[] = [];
  plant.listeners.push({ second: () => seen.push(plant.communication) });
  plant.advance(40);
  expect([seen[5], seen[15], seen[25], seen[35]]).toEqual(['up', 'silent', 'up', 'refused']);
});

test('the same seed gives the same plant, another seed another', () => {
  const run = (seed: number) => {
    const machine = new ParallelMachine(CH1, seed);
    const plant = new Plant({ machine, seed, start: START, faults: [], warmUp: 600 });
    plant.advance(120);
    return [...plant.sensors.values()].map((sensor) => sensor.raw);
  };
  expect(run(11)).toEqual(run(11));
  expect(run(11)).not.toEqual(run(12));
});
