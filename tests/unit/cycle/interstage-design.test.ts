/** Forward calculation of two stages: scale, drives, efficiencies of each stage, what is refused. */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { type Design, design } from '../../../agent/cycle/design.ts';
import type { CycleState } from '../../../agent/cycle/types.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { CAPACITY, CONDITION, ON } from './two-stages.ts';

test('motor drive and scale: capacity, flow and power describe one circuit', () => {
  const compressors = [{ isentropic_efficiency: 0.8, drive_efficiency: 0.94 }, { isentropic_efficiency: 0.78 }];
  const whole = must(design({ ...CONDITION, compressors }));
  const { capacity: _, ...rest } = CONDITION;
  for (const scale of [{ flow: whole.flow }, { power: whole.power }]) {
    const other = must(design({ ...rest, ...scale, compressors }));
    expect(other.capacity / CAPACITY).toBeCloseTo(1, 9);
    expect(other.states['2']?.h).toBeCloseTo(whole.states['2']?.h as number, 6);
  }
  const lossless = must(design({ ...CONDITION, compressors: [{ isentropic_efficiency: 0.8 }, compressors[1]] }));
  expect(whole.power * 0.94).toBeCloseTo(lossless.power, 4);
});

test('each stage at its own efficiency, isentropic or polytropic', () => {
  const fluid = must(refrigerant('R1233zdE'));
  const of = (d: Design, from: string, to: string) => {
    const [a, b] = [d.states[from], d.states[to]] as [CycleState, CycleState];
    return (must(fluid.PS(b.p, a.s)).h - a.h) / (b.h - a.h);
  };
  const two = [{ isentropic_efficiency: 0.8 }, { isentropic_efficiency: 0.7 }];
  const found = must(design({ ...CONDITION, compressors: two }));
  expect(of(found, '1', '2')).toBeCloseTo(0.8, 9);
  expect(of(found, '9', '10')).toBeCloseTo(0.7, 9);
  const mixed = must(design({ ...CONDITION, compressors: [{ polytropic_efficiency: 0.8 }, two[1]] }));
  expect(of(mixed, '1', '2')).toBeLessThan(0.799);
  expect(of(mixed, '9', '10')).toBeCloseTo(0.7, 9);
  // one figure over both lies between
  expect(found.metrics['main_compressor.polytropic_efficiency']).toBeGreaterThan(0.7);
  expect(found.metrics['main_compressor.polytropic_efficiency']).toBeLessThan(0.81);
});

test('a measured discharge stands in for efficiencies', () => {
  const { T, p } = ON.states['10'] as { T: number; p: number };
  const found = must(design({ ...CONDITION, compressors: [], states: { 10: { T, p } } }));
  expect(found.metrics['main_compressor.polytropic_efficiency']).toBeCloseTo(0.82, 6);
  expect(found.power / ON.power).toBeCloseTo(1, 6);
});

test.each([
  [{ tanks: [] }, 'tanks'],
  [{ compressors: [] }, 'compressors'],
  [{ compressors: [{}] }, 'one of isentropic_efficiency and polytropic_efficiency'],
  [{ compressors: [{ isentropic_efficiency: 0.8, polytropic_efficiency: 0.8 }] }, 'compressors[0]'],
  [{ compressors: [{ isentropic_efficiency: 0.8 }, { isentropic_efficiency: 0.8, drive_efficiency: 0.9 }] }, 'drive'],
  [{ states: { 2: { p: 2e5, T: 320 } } }, 'main discharge'],
])('%j is refused', (more, word) => {
  const answer = design({ ...CONDITION, ...more });
  expect(answer.ok ? '' : answer.fault.message).toContain(word);
});
