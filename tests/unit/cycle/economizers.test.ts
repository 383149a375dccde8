/** Subcooler and three stages from points: what was designed is found again, and what lacks is said. */
import { describe, expect, test } from 'vitest';
import { design } from '../../../agent/cycle/design.ts';
import { built, CAPACITY, designed, pointsOf, SUBCOOLER, THREE } from './economizers.ts';
import { good, reason, solved, value } from './given.ts';

const CASES = [
  ['subcooler', SUBCOOLER],
  ['three stages', THREE],
] as const;

describe.each(CASES)('%s', (_, given) => {
  const on = designed(given);
  const off = designed(given, 'off');

  test('what was designed is found again from its points, economizer on', () => {
    const found = solved(pointsOf(on, given, true), built(given));
    expect(value(found, 'unit.capacity')).toBeCloseTo(CAPACITY / 1e3, 3);
    expect(value(found, 'main_compressor.polytropic_efficiency')).toBeCloseTo(0.82, 6);
    expect(value(found, 'economizer.saving_fraction')).toBeCloseTo(
      on.metrics['economizer.saving_fraction'] as number,
      8,
    );
    for (const [number, state] of Object.entries(on.states)) {
      expect(found.states[number]?.h, number).toBeCloseTo(state.h, 2);
      expect((found.states[number]?.m as number) / (state.m as number), number).toBeCloseTo(1, 6);
    }
    expect(Object.keys(found.states).sort()).toEqual(Object.keys(on.states).sort());
  });

  test('economizer off: one compression, h6 = h3, and what it would save', () => {
    const found = solved(pointsOf(off, given, false), built(given));
    expect(value(found, 'unit.capacity')).toBeCloseTo(CAPACITY / 1e3, 3);
    expect(found.states['6']?.h).toBe(found.states['3']?.h);
    expect(found.states['7']).toBeUndefined();
    expect(found.ghost['7']).toBeDefined();
    // at pressures near those assumed for the tank, the missed saving is about what the running one saves
    const [missed, saved] = [
      value(found, 'economizer.missed_saving_fraction'),
      on.metrics['economizer.saving_fraction'],
    ];
    expect(Math.abs(missed - (saved as number))).toBeLessThan(0.01);
    expect(reason(found, 'economizer.saving_fraction')).toBe('the economizer is off');
    expect(reason(found, 'main_compressor.second_stage_lift')).toBe('the economizer is off');
  });

  test('off takes the power that the saving says, at the same efficiency', () => {
    const saving = on.metrics['economizer.saving_fraction'] as number;
    expect(1 - on.power / off.power).toBeCloseTo(saving, 5);
  });

  test('lifts of the stages add up to the whole', () => {
    const { metrics } = on;
    const lifts = ['first', 'second', 'third'].map((stage) => metrics[`main_compressor.${stage}_stage_lift`] ?? 0);
    expect(lifts.reduce((sum, lift) => sum + lift)).toBeCloseTo(metrics['main_compressor.lift'] as number, 9);
  });

  test('without anything that says whether it runs, figures say so', () => {
    const { 'economizer.running': __, ...points } = pointsOf(on, given, true);
    const found = solved(points, built(given));
    expect(found.economizer).toBe('unknown');
    expect(found.metrics['economizer.saving_fraction']?.quality).toBe('uncertain');
  });
});

describe('subcooler', () => {
  const on = designed(SUBCOOLER);
  const points = pointsOf(on, SUBCOOLER, true);

  test('without its temperatures approach and superheat are assumed, with their uncertainty', () => {
    const { 'economizer.liquid_temperature': _, 'economizer.vapour_temperature': __, ...fewer } = points;
    const assumed = built(SUBCOOLER, { subcooler: { approach: '3 K', superheat: '2 K' } });
    const [less, more] = [solved(fewer, assumed), solved(points, assumed)];
    const name = 'economizer.vapour_fraction';
    expect(value(less, name)).toBeCloseTo(value(more, name), 8);
    expect(less.metrics[name]?.uncertainty as number).toBeGreaterThan(
      1.5 * (more.metrics[name]?.uncertainty as number),
    );
    expect(reason(less, 'economizer.approach')).toBe('economizer.liquid_temperature is not measured');
    expect(value(more, 'economizer.approach')).toBeCloseTo(3, 6);
    expect(value(more, 'economizer.liquid_cooling')).toBeCloseTo(306.15 - 296.15, 6);
  });

  test('more liquid cooling takes more vapour: an energy balance by hand', () => {
    const found = solved(points, built(SUBCOOLER));
    const h = (node: string) => found.states[node]?.h as number;
    const m = (node: string) => found.states[node]?.m as number;
    expect(m('6') * (h('3') - h('5'))).toBeCloseTo(m('7') * (h('7') - h('4')), 3);
    expect(m('3')).toBeCloseTo(m('6') + m('7'), 9);
  });

  test('liquid no colder than it condenses, or colder than what cools it, is not believed', () => {
    const warm = solved({ ...points, 'economizer.liquid_temperature': good(311, 0.3) }, built(SUBCOOLER));
    expect(reason(warm, 'unit.capacity')).toContain('liquid leaves the subcooler no colder than it condenses');
    const cold = solved({ ...points, 'economizer.liquid_temperature': good(292, 0.3) }, built(SUBCOOLER));
    expect(cold.metrics['economizer.approach']?.quality).toBe('uncertain');
    expect(value(cold, 'economizer.approach')).toBeLessThan(0);
  });

  test('tank figures say that there is no tank', () => {
    const found = solved(points, built(SUBCOOLER));
    for (const name of ['flash_fraction', 'vapour_mass_flow', 'saturation_temperature'])
      expect(reason(found, `flash_tank.${name}`), name).toBe('this arrangement has no flash tank');
    for (const name of ['flash_tank.flash_fraction', 'flash_tank_2.flash_fraction', 'main_compressor.third_stage_lift'])
      expect(found.unobservable, name).toContain(name);
    for (const name of ['economizer.vapour_fraction', 'economizer.saving_fraction'])
      expect(found.unobservable, name).not.toContain(name);
  });
});

describe('three stages', () => {
  const on = designed(THREE);
  const points = pointsOf(on, THREE, true);

  test('a tank by its temperature as well as by its pressure', () => {
    const { 'flash_tank_2.pressure': _, ...rest } = points;
    const found = solved({ ...rest, 'flash_tank_2.temperature': good(287.15, 0.3) }, built(THREE));
    expect(value(found, 'flash_tank_2.flash_fraction')).toBeCloseTo(
      on.metrics['flash_tank_2.flash_fraction'] as number,
      6,
    );
  });

  test('tanks in the wrong order contradict, and are said to', () => {
    const { 'flash_tank.pressure': high, 'flash_tank_2.pressure': low } = points;
    const found = solved(
      { ...points, 'flash_tank.pressure': low as never, 'flash_tank_2.pressure': high as never },
      built(THREE),
    );
    expect(reason(found, 'flash_tank_2.flash_fraction')).toMatch(/pressure does not fall on the way to point 11/);
    expect(found.metrics['unit.capacity']?.value).toBeNull();
  });

  test('one machine of two tanks saves more than of one', () => {
    const one = designed({ ...THREE, tanks: [{ T: 292.65 }] });
    expect(on.metrics['economizer.saving_fraction'] as number).toBeGreaterThan(
      one.metrics['economizer.saving_fraction'] as number,
    );
  });
});

test.each([
  [{ tanks: [{ T: 298.15 }, { T: 288.15 }] }, "tanks: the arrangement 'subcooler' has one"],
  [{ tanks: [] }, 'tanks: one is needed, {p} or {T}'],
  [{ arrangement: 'interstage' }, "subcooler: the arrangement 'interstage' has none"],
  [{ compressors: [0.8, 0.8, 0.8].map((isentropic_efficiency) => ({ isentropic_efficiency })) }, 'compressors: 2 are'],
  [{ tanks: [{ T: 320 }] }, 'is not between evaporator and condenser pressure'],
  [{ subcooler: { approach: 17 } }, 'liquid leaves the subcooler no colder than it condenses'],
])('a design that cannot be is refused with what to do: %j', (wrong, message) => {
  const answer = design({ ...SUBCOOLER, ...wrong });
  expect(answer.ok).toBe(false);
  if (!answer.ok) expect(answer.fault.message).toContain(message);
});
