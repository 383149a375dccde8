/**
 * The truth and record files: minute boundaries of the plant's clock, catalogue units, agreement with the point
 * dictionary.
 */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { readFault } from '../../../agent/plant/faults.ts';
import { InterstageMachine } from '../../../agent/plant/interstage-machine.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import { MinuteRecord, MinuteTruth } from '../../../agent/plant/minutes.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';
import { isPoint, pointDefinition } from '../../../agent/points/dictionary.ts';

type Truth = { t: string; points: Record<string, number>; metrics: Record<string, number | null> };
type Recorded = { time: string; points: Record<string, { value: number | null; unit: string; u?: number }> };

const MACHINES = {
  'CH-1': () => new ParallelMachine(CH1, 21),
  'CH-2': () => new InterstageMachine(CH2, 21),
} as const;

function run(options: {
  seconds: number;
  start?: number;
  redraw?: boolean;
  faults?: string[];
  machine?: keyof typeof MACHINES;
}) {
  const machine = MACHINES[options.machine ?? 'CH-1']();
  const faults = (options.faults ?? []).map((text) => must(readFault(text, machine.points)));
  const start = options.start ?? Date.UTC(2026, 6, 1, 14);
  const plant = new Plant({ machine, seed: 21, start, faults, warmUp: 7200 });
  const truth: Truth[] = [];
  const record: Recorded[] = [];
  plant.listeners.push(new MinuteTruth((line) => truth.push(line as unknown as Truth)));
  plant.listeners.push(
    new MinuteRecord((line) => record.push(line as unknown as Recorded), { redraw: options.redraw ?? false }),
  );
  plant.advance(options.seconds);
  return { plant, machine, truth, record };
}

test.each(['CH-1', 'CH-2'] as const)(
  '%s: every mapped point is one of the dictionary, in its unit and range',
  (name) => {
    const { truth, record, machine } = run({ seconds: 60, machine: name });
    expect(Object.keys(truth[0]!.points).length).toBe(machine.points.length);
    for (const [name, { value, unit }] of Object.entries(record[0]!.points)) {
      expect(isPoint(name), name).toBe(true);
      const { unit: expected, low, high } = pointDefinition(name);
      expect(unit).toBe(expected);
      for (const figure of [value!, truth[0]!.points[name]!]) {
        expect(figure, name).toBeGreaterThanOrEqual(low);
        expect(figure, name).toBeLessThanOrEqual(high);
      }
    }
  },
);

test('minutes end on whole minutes of the plant clock; a minute begun in the middle is left out', () => {
  const { truth, record } = run({ seconds: 200, start: Date.UTC(2026, 6, 1, 14, 0, 20) });
  expect(truth.map(({ t }) => t)).toEqual(['2026-07-01T14:02:00Z', '2026-07-01T14:03:00Z']);
  expect(record.map(({ time }) => time)).toEqual(truth.map(({ t }) => t));
});

test.each(['CH-1', 'CH-2'] as const)('%s: record and truth differ by errors of the stated size', (machine) => {
  const { truth, record } = run({ seconds: 60, machine });
  let square = 0;
  let count = 0;
  for (const [name, { value, u }] of Object.entries(record[0]!.points)) {
    if (u === 0) {
      expect(value, name).toBeCloseTo(truth[0]!.points[name]!, 3);
      continue;
    }
    const z = (value! - truth[0]!.points[name]!) / u!;
    expect(Math.abs(z), name).toBeLessThan(4.5);
    square += z * z;
    count += 1;
  }
  // Mean square of so many standard normal draws, four standard errors.
  expect(Math.abs(square / count - 1)).toBeLessThan(4 * Math.sqrt(2 / count));
});

test('with redraw the offset of a point averages out over the minutes', () => {
  const { truth, record } = run({ seconds: 300 * 60, redraw: true });
  for (const name of ['condenser_water.leaving_temperature', 'unit.power', 'flash_tank.pressure']) {
    const zs = record.map(({ points }, i) => (points[name]!.value! - truth[i]!.points[name]!) / points[name]!.u!);
    const mean = zs.reduce((a, b) => a + b) / zs.length;
    const spread = Math.sqrt(zs.reduce((a, z) => a + (z - mean) ** 2, 0) / (zs.length - 1));
    expect(Math.abs(mean)).toBeLessThan(4 / Math.sqrt(zs.length));
    expect(Math.abs(spread - 1)).toBeLessThan(4 / Math.sqrt(2 * zs.length) + 0.05);
  }
});

test('the metrics hang together as their definitions say', () => {
  const { truth } = run({ seconds: 60 });
  const { metrics, points } = truth[0]!;
  const m = metrics as Record<string, number>;
  expect(m['unit.kw_per_ton']).toBeCloseTo(3.516853 / m['unit.cop']!, 6);
  expect(m['unit.capacity']! / m['unit.power']!).toBeCloseTo(m['unit.cop']!, 9);
  expect(m['condenser.approach']).toBeCloseTo(
    m['condenser.saturation_temperature']! - points['condenser_water.leaving_temperature']!,
    2,
  );
  expect(m['main_compressor.pressure_ratio']).toBeCloseTo(
    points['condenser.pressure']! / points['evaporator.pressure']!,
    3,
  );
  const x4 = m['flash_tank.flash_fraction']!;
  expect(m['economizer_compressor.mass_flow']! / m['evaporator.mass_flow']!).toBeCloseTo(x4 / (1 - x4), 2);
  expect(m['main_compressor.polytropic_efficiency']).toBeGreaterThan(m['main_compressor.isentropic_efficiency']!);
  expect(m['main_compressor.isentropic_efficiency']).toBeLessThan(m['main_compressor.isentropic_efficiency_flange']!);
  expect(m['flash_tank.flash_fraction_without_subcooling']).toBeGreaterThan(x4);
});

test('with the economizer off its metrics are null, never a number', () => {
  const { truth, record } = run({ seconds: 300, faults: ['economizer_compressor_off:1@0'] });
  const last = truth.at(-1)!.metrics;
  for (const name of ['flash_tank.flash_fraction', 'economizer.saving_fraction', 'economizer_compressor.lift'])
    expect(last[name]).toBeNull();
  expect(last['evaporator.flash_fraction']).toBeGreaterThan(0.1);
  for (const [name, value] of Object.entries(truth.at(-1)!.points)) expect(value, name).not.toBeNaN();
  for (const [name, { value }] of Object.entries(record.at(-1)!.points)) expect(value, name).not.toBeNull();
});

test('a point that shows not-a-number is null in the record', () => {
  const { record } = run({ seconds: 120, faults: ['nan_value/flash_tank.pressure:1@60'] });
  expect(record[0]!.points['flash_tank.pressure']!.value).toBeGreaterThan(400);
  expect(record[1]!.points['flash_tank.pressure']).toEqual({
    value: null,
    unit: 'kPa',
    reason: 'the register shows no number',
  });
});

test("CH-2's truth carries the stages' own metrics, and pressures of three references come back absolute", () => {
  const { truth, record } = run({ seconds: 60, machine: 'CH-2' });
  const metrics = truth[0]!.metrics as Record<string, number>;
  for (const name of [
    'main_compressor.first_stage_lift',
    'main_compressor.second_stage_lift',
    'main_compressor.polytropic_efficiency',
    'economizer.saving_fraction',
    'flash_tank.vapour_mass_flow',
    'main_compressor.suction_volume_flow',
  ])
    expect(metrics[name], name).toBeGreaterThan(0);
  expect(metrics).not.toHaveProperty(['economizer_compressor.power']);
  const { points } = record[0]!;
  // Vacuum gauge, absolute cell, sealed gauge; kPa.
  expect(points['evaporator.pressure']).toMatchObject({ unit: 'kPa' });
  expect(points['evaporator.pressure']!.value).toBeLessThan(70);
  expect(points['flash_tank.pressure']!.value).toBeGreaterThan(90);
  expect(points['condenser.pressure']!.value).toBeGreaterThan(150);
});
