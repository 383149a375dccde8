/** Stopping, standing, starting, and turning on and off at little load; times: common practice, no source. */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { readFault } from '../../../agent/plant/faults.ts';
import { InterstageMachine } from '../../../agent/plant/interstage-machine.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import { MinuteTruth } from '../../../agent/plant/minutes.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';

const MACHINES = [
  ['CH-1', () => new ParallelMachine(CH1, 7)],
  ['CH-2', () => new InterstageMachine(CH2, 7)],
] as const;

function plantOf(build: (typeof MACHINES)[number][1], ...texts: string[]) {
  const machine = build();
  const faults = texts.map((text) => must(readFault(text, machine.points)));
  const plant = new Plant({ machine, seed: 7, start: Date.UTC(2026, 6, 1, 14), faults, warmUp: 5400 });
  const read = (name: string): number => machine.readings[name]!();
  return { plant, machine, read };
}

describe.each(MACHINES)('%s', (_name, build) => {
  test('a stop in order: unloaded, off, pumps off; and a start in order: pumps, compressor, pulled down', () => {
    const { plant, read } = plantOf(build, 'machine_stop:1@60..7260');
    const modes: number[] = [];
    let flowWhileTurning = Number.POSITIVE_INFINITY;
    plant.listeners.push({
      second: () => {
        const mode = read('unit.operating_mode');
        if (modes.at(-1) !== mode) modes.push(mode);
        if (read('main_compressor.running') === 1)
          flowWhileTurning = Math.min(flowWhileTurning, read('chilled_water.flow'));
      },
    });
    const [starts, hours] = [read('main_compressor.starts'), read('main_compressor.run_hours')];
    plant.advance(120);
    expect([read('unit.running'), read('unit.operating_mode')]).toEqual([1, 4]);
    plant.advance(120);
    expect([read('unit.running'), read('main_compressor.running')]).toEqual([0, 0]);
    expect(read('chilled_water.flow')).toBeGreaterThan(0);
    plant.advance(600);
    expect(read('unit.operating_mode')).toBe(1);
    expect([read('chilled_water.flow'), read('condenser_water.flow'), read('main_compressor.speed')]).toEqual([
      0, 0, 0,
    ]);
    // Oil pump and controls alone.
    expect(read('unit.power')).toBeLessThan(4e3);
    plant.advance(6360);
    expect(read('main_compressor.run_hours') - hours).toBeLessThanOrEqual(3600);
    plant.advance(180);
    expect(read('unit.running')).toBe(1);
    const warm = read('chilled_water.leaving_temperature');
    plant.advance(3600);
    expect(warm - read('chilled_water.leaving_temperature')).toBeGreaterThan(3);
    expect(Math.abs(read('chilled_water.leaving_temperature') - 279.82)).toBeLessThan(0.3);
    expect(read('main_compressor.starts')).toBe(starts + 1);
    expect(modes).toEqual([3, 4, 1, 2, 3]);
    expect(flowWhileTurning).toBeGreaterThan(0.1);
  });

  test('standing six hours, refrigerant and water come to one temperature and one pressure', () => {
    const { plant, machine, read } = plantOf(build, 'machine_stop:1@0');
    plant.advance(300);
    const { evaporator, condenser, tank } = machine.circuit;
    const apart = condenser.saturation.T - evaporator.saturation.T;
    plant.advance(6 * 3600);
    expect(apart).toBeGreaterThan(0.5);
    for (const vessel of [condenser, tank])
      expect(Math.abs(vessel.saturation.T - evaporator.saturation.T)).toBeLessThan(0.15);
    for (const name of [
      'chilled_water.entering_temperature',
      'chilled_water.leaving_temperature',
      'condenser_water.entering_temperature',
      'condenser_water.leaving_temperature',
      'main_compressor.suction_temperature',
      'main_compressor.discharge_temperature',
      'flash_tank.temperature',
    ])
      expect(Math.abs(read(name) - evaporator.saturation.T), name).toBeLessThan(0.3);
    expect(Math.abs(read('condenser.pressure') / read('evaporator.pressure') - 1)).toBeLessThan(0.002);
  });

  test('while it stands what only a running machine has is null, never a number', () => {
    const { plant } = plantOf(build, 'machine_stop:1@0');
    const lines: { metrics: Record<string, number | null>; points: Record<string, number> }[] = [];
    plant.listeners.push(new MinuteTruth((line) => lines.push(line as unknown as (typeof lines)[number])));
    plant.advance(1800);
    const { metrics, points } = lines.at(-1)!;
    for (const name of [
      'unit.capacity',
      'unit.cop',
      'unit.kw_per_ton',
      'main_compressor.lift',
      'main_compressor.mass_flow',
      'main_compressor.polytropic_efficiency',
      'condenser.approach',
      'evaporator.ua',
      'flash_tank.flash_fraction',
      'economizer.saving_fraction',
    ])
      expect(metrics[name], name).toBeNull();
    for (const [name, value] of Object.entries(metrics))
      expect(value === null || Number.isFinite(value), name).toBe(true);
    for (const [name, value] of Object.entries(points)) expect(Number.isFinite(value), name).toBe(true);
  });

  test('at a load below what it turns down to it stops on cold water, waits with its pumps on, and starts again', () => {
    const { plant, read } = plantOf(build, 'held_load:6@0');
    const starts = read('main_compressor.starts');
    let waited = 0;
    plant.listeners.push({
      second: () => {
        if (read('main_compressor.running') === 0 && read('chilled_water.flow') > 0.05) waited += 1;
      },
    });
    plant.advance(5 * 3600);
    expect(read('main_compressor.starts') - starts).toBeGreaterThanOrEqual(2);
    expect(waited).toBeGreaterThan(1200);
    expect(read('chilled_water.leaving_temperature')).toBeGreaterThan(276);
  });
});
