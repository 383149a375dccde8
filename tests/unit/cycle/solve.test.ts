import { describe, expect, test } from 'vitest';
import { prepare } from '../../../agent/cycle/solve.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import {
  bad,
  good,
  machine,
  P_CONDENSER,
  P_EVAPORATOR,
  P_TANK,
  POWER,
  reason,
  SET_A,
  SET_B,
  SET_C,
  SET_CD,
  SET_D,
  solved,
  uncertain,
  uncertainty,
  value,
} from './given.ts';

type Points = Record<string, PointValue>;

function without(points: Points, ...names: string[]): Points {
  return Object.fromEntries(Object.entries(points).filter(([name]) => !names.includes(name)));
}

test('an unknown refrigerant is refused when the solver is made', () => {
  const made = prepare({ ...machine(), refrigerant: 'R999' });
  expect(made.ok ? '' : made.fault.code).toBe('refrigerant_unknown');
});

describe('the economizer', () => {
  const off: Points = { ...SET_C, 'economizer_compressor.running': good(0) };

  test('on: states 1 to 8 with flows, and the circuit without it beside them', () => {
    const { economizer, states, ghost } = solved(SET_CD);
    expect(economizer).toBe('on');
    expect(Object.keys(states)).toEqual(['1', '2', '3', '4', '5', '6', '7', '8']);
    expect(Object.keys(ghost)).toEqual(['1', '2', '3', '6']);
    expect(ghost['6']?.h).toBeCloseTo(states['3']?.h as number, 6);
    const [main, vapour, condenser] = ['2', '8', '3'].map((node) => states[node]?.m as number) as [
      number,
      number,
      number,
    ];
    expect(main + vapour).toBeCloseTo(condenser, 9);
    // the same capacity without the economizer needs 12 % more flow
    expect((ghost['1']?.m as number) / main).toBeCloseTo(1.1197, 4);
  });

  test('off: h6 = h3, no 5, 7, 8; flash fraction and saving missing with the reason, the missed saving there', () => {
    const found = solved(off);
    expect(found.economizer).toBe('off');
    expect(Object.keys(found.states)).toEqual(['1', '2', '3', '4', '6']);
    expect(found.states['6']?.h).toBeCloseTo(found.states['3']?.h as number, 6);
    for (const name of ['flash_tank.flash_fraction', 'economizer.saving_fraction', 'economizer_compressor.power'])
      expect(reason(found, name), name).toBe('the economizer is off');
    expect(value(found, 'evaporator.flash_fraction')).toBeCloseTo(0.20191, 5);
    // tank near the geometric mean, the optimum is flat: what the running machine saves, of the present power
    expect(value(found, 'economizer.missed_saving_fraction')).toBeCloseTo(0.0502, 2);
    expect(value(found, 'economizer.missed_saving')).toBeCloseTo(
      value(found, 'economizer.missed_saving_fraction') * value(found, 'unit.power'),
      9,
    );
    expect(found.metrics['economizer.missed_saving']?.quality).toBe('uncertain');
    expect(Object.keys(found.ghost)).toEqual(['1', '2', '3', '4', '5', '6', '7', '8']);
    expect(found.ghost['5']?.q).toBe(0);
    expect(found.ghost['6']?.h).toBeLessThan(found.states['6']?.h as number);
  });

  test('off, all power is the main compressor’s', () => {
    expect(value(solved(off), 'main_compressor.power')).toBeCloseTo(POWER / 1e3, 9);
  });

  test('without its running point its power tells, without that it is unknown and every figure that leans on it is uncertain', () => {
    const silent = without(SET_CD, 'economizer_compressor.running');
    expect(solved({ ...silent, 'economizer_compressor.power': good(47e3, 500) }).economizer).toBe('on');
    expect(solved({ ...silent, 'economizer_compressor.power': good(200, 500) }).economizer).toBe('off');
    const dead = { ...silent, 'economizer_compressor.running': bad('never read') };
    expect(solved({ ...dead, 'economizer_compressor.power': good(47e3, 500) }).economizer).toBe('on');
    const found = solved(silent);
    expect(found.economizer).toBe('unknown');
    expect(found.metrics['flash_tank.flash_fraction']?.quality).toBe('uncertain');
    expect(reason(found, 'flash_tank.flash_fraction')).toContain('taken as running');
    for (const name of ['evaporator.flash_fraction', 'evaporator.mass_flow', 'economizer.saving_fraction'])
      expect(reason(found, name), name).toContain('taken as running');
    for (const name of ['condenser.subcooling', 'unit.capacity', 'unit.kw_per_ton', 'main_compressor.isentropic_head'])
      expect(found.metrics[name]?.quality, name).toBe('good');
  });

  test('none in a simple arrangement', () => {
    const found = solved(SET_CD, machine({ arrangement: 'simple' }));
    expect(found.economizer).toBe('none');
    expect(Object.keys(found.states)).toEqual(['1', '2', '3', '6']);
    expect(found.ghost).toEqual({});
    expect(reason(found, 'economizer.saving_fraction')).toBe('this arrangement has no economizer');
    expect(found.unobservable).toContain('economizer.missed_saving');
    expect(value(found, 'unit.kw_per_ton')).toBeGreaterThan(0.4);
  });
});

describe('quality', () => {
  test('good points give good figures without a reason', () => {
    for (const [name, figure] of Object.entries(solved(SET_CD).metrics)) {
      if (figure.value === null) continue;
      expect([name, figure.quality, figure.reason]).toEqual([name, 'good', null]);
    }
  });

  test('an uncertain point makes its own figures uncertain and is named', () => {
    const found = solved({ ...SET_CD, 'condenser.liquid_temperature': uncertain(306.15, 0.3, 'two readings refused') });
    expect(reason(found, 'condenser.subcooling')).toBe('condenser.liquid_temperature: two readings refused');
    expect(found.metrics['flash_tank.flash_fraction']?.quality).toBe('uncertain');
    for (const name of [
      'main_compressor.lift',
      'condenser.approach',
      'unit.capacity',
      'main_compressor.isentropic_efficiency',
    ])
      expect(found.metrics[name]?.quality, name).toBe('good');
  });

  test('a bad point costs its own figures and no other; the rest stays within what was stated of it', () => {
    const before = solved(SET_CD);
    const after = solved({ ...SET_CD, 'condenser.liquid_temperature': bad('sentinel') });
    expect(reason(after, 'flash_tank.flash_fraction')).toBe('condenser.liquid_temperature is bad: sentinel');
    for (const name of [
      'main_compressor.lift',
      'condenser.approach',
      'unit.capacity',
      'evaporator.ua',
      'unit.kw_per_ton',
    ]) {
      expect(after.metrics[name]?.quality, name).toBe(before.metrics[name]?.quality);
      expect(Math.abs(value(after, name) - value(before, name)), name).toBeLessThan(uncertainty(after, name));
    }
    // where nothing is redundant a figure that does not use the point does not move at all
    const [alone, less] = [solved(SET_D), solved({ ...SET_D, 'condenser.liquid_temperature': bad('sentinel') })];
    for (const name of ['main_compressor.lift', 'condenser.approach', 'unit.capacity', 'evaporator.ua'])
      expect(less.metrics[name], name).toEqual(alone.metrics[name]);
  });

  test('tank temperature stands in for tank pressure', () => {
    const points = { ...SET_CD, 'flash_tank.pressure': bad('stale'), 'flash_tank.temperature': good(293.15, 0.3) };
    const found = solved(points);
    expect(value(found, 'flash_tank.flash_fraction')).toBeCloseTo(0.10207, 5);
    expect(found.metrics['flash_tank.flash_fraction']?.quality).toBe('good');
  });

  test('no figure is both there and bad, or missing without a reason', () => {
    for (const points of [SET_A, SET_B, SET_C, SET_D, {}])
      for (const [name, figure] of Object.entries(solved(points).metrics)) {
        expect(figure.value === null, name).toBe(figure.quality === 'bad');
        expect(figure.reason === null, name).toBe(figure.quality === 'good');
        expect(figure.reason, name).not.toBe('');
      }
  });
});

describe('doubtful states', () => {
  test('no superheat at the discharge: temperature does not tell the work, the assumed efficiency is used and efficiency missing', () => {
    const found = solved({ ...SET_B, 'main_compressor.discharge_temperature': good(310.2, 0.7) });
    expect(reason(found, 'main_compressor.isentropic_efficiency')).toContain('shows no superheat');
    expect(value(found, 'economizer.saving_fraction')).toBeCloseTo(0.0502, 4);
  });

  test('suction below saturation continues the vapour line, beyond noise with doubt; far below it is taken as saturated', () => {
    const at = (T: number) => solved({ ...SET_C, 'main_compressor.suction_temperature': good(T, 0.7) });
    const efficiency = (T: number) => value(at(T), 'main_compressor.isentropic_efficiency');
    const slope = (efficiency(278.25) - efficiency(278.15)) / 0.1;
    expect((efficiency(278.15) - efficiency(278.05)) / 0.1 / slope).toBeCloseTo(1, 1);
    expect((efficiency(273.2) - efficiency(273.1)) / 0.1 / slope).toBeCloseTo(1, 0);
    expect(at(275.3).metrics['main_compressor.isentropic_efficiency']?.quality).toBe('good');
    expect(reason(at(273.1), 'main_compressor.isentropic_efficiency')).toContain('lies below saturation');
    expect(efficiency(266)).toBeCloseTo(value(solved(SET_C), 'main_compressor.isentropic_efficiency'), 9);
    expect(reason(at(266), 'main_compressor.isentropic_efficiency')).toContain('taken as saturated');
  });

  test('liquid above saturation: within noise it goes on, beyond it is doubted, far beyond it is refused', () => {
    const at = (above: number) => solved({ ...SET_B, 'condenser.liquid_temperature': good(310.15 + above, 0.3) });
    expect(at(0.5).metrics['flash_tank.flash_fraction']?.quality).toBe('good');
    expect(value(at(0), 'flash_tank.flash_fraction')).toBeCloseTo(0.13433, 4);
    expect(at(5).metrics['flash_tank.flash_fraction']?.quality).toBe('uncertain');
    expect(reason(at(15), 'flash_tank.flash_fraction')).toContain('lies above saturation');
    expect(value(at(15), 'condenser.subcooling')).toBeCloseTo(-15, 6);
  });

  test('pressures the wrong way round cost the compression, not the saturation temperatures', () => {
    const found = solved({
      ...SET_B,
      'evaporator.pressure': good(P_CONDENSER, 5e3),
      'condenser.pressure': good(P_EVAPORATOR, 8e3),
    });
    expect(reason(found, 'main_compressor.isentropic_head')).toContain('pressure does not rise');
    expect(value(found, 'evaporator.saturation_temperature')).toBeCloseTo(37, 6);
  });

  test('a tank pressure at which nothing flashes: no flash fraction, flow or saving, and the points to check', () => {
    for (const p of [1.1 * P_CONDENSER, 0.5 * P_EVAPORATOR]) {
      const found = solved({ ...SET_D, 'flash_tank.pressure': good(p, 5e3) });
      for (const name of ['economizer.saving_fraction', 'flash_tank.vapour_mass_flow', 'economizer_compressor.power'])
        expect(reason(found, name), `${name} at ${p}`).toContain('pressure does not fall');
      expect(value(found, 'unit.capacity_from_chilled_water')).toBeGreaterThan(5000);
    }
  });

  test('condenser liquid as cold as the tank: nothing flashes', () => {
    const found = solved({ ...SET_B, 'condenser.liquid_temperature': good(292.15, 0.3) });
    for (const name of ['flash_tank.flash_fraction', 'economizer.saving_fraction', 'economizer_compressor.power_share'])
      expect(reason(found, name), name).toContain('nothing flashes');
    expect(value(found, 'condenser.subcooling')).toBeCloseTo(18, 6);
  });

  test('a negative approach is kept and doubted', () => {
    const found = solved({ ...SET_D, 'chilled_water.leaving_temperature': good(277.15, 0.1) });
    expect(value(found, 'evaporator.approach')).toBeCloseTo(-1, 6);
    expect(reason(found, 'evaporator.approach')).toContain('below zero');
    expect(reason(found, 'evaporator.ua')).toContain('beyond the saturation temperature');
  });

  test('a pressure outside the equation: the reason names it', () => {
    const found = solved({ ...SET_B, 'condenser.pressure': good(9e9, 8e3) });
    expect(found.metrics['condenser.saturation_temperature']?.value).toBeNull();
    expect(reason(found, 'condenser.saturation_temperature')).toContain('R-134a');
    expect(value(found, 'evaporator.saturation_temperature')).toBeCloseTo(5, 6);
  });
});

test('standing still: no cycle, only saturation temperatures and power', () => {
  const found = solved({ ...SET_CD, 'unit.running': good(0) });
  expect(found.states).toEqual({});
  expect(found.ghost).toEqual({});
  const there = Object.entries(found.metrics).filter(([, figure]) => figure.value !== null);
  expect(there.map(([name]) => name).sort()).toEqual([
    'condenser.saturation_temperature',
    'evaporator.saturation_temperature',
    'flash_tank.saturation_temperature',
    'unit.power',
  ]);
  expect(reason(found, 'unit.kw_per_ton')).toBe('the chiller is not running');
  expect(found.unobservable).toEqual(solved(SET_CD).unobservable);
});

describe('the saving at equal capacity', () => {
  test('not attainable beyond the rated suction flow', () => {
    const within = solved(SET_CD, machine({ rated_suction_flow: '2.1 m3/s' }));
    expect(within.metrics['economizer.power_saved']?.quality).toBe('good');
    const beyond = solved(SET_CD, machine({ rated_suction_flow: '1.9 m3/s' }));
    expect(beyond.metrics['economizer.power_saved']?.quality).toBe('uncertain');
    expect(reason(beyond, 'economizer.power_saved')).toContain('not attainable');
    expect(value(beyond, 'economizer.power_saved')).toBe(value(within, 'economizer.power_saved'));
    expect(beyond.metrics['economizer.saving_fraction']?.quality).toBe('good');
    const { rated_suction_flow: _, ...unrated } = machine();
    expect(reason(solved(SET_CD, unrated), 'economizer.power_saved')).toContain('not configured');
  });

  test('can be negative, and says so', () => {
    const poor = machine({ economizer_compressor: { drive_efficiency: 1, assumed_isentropic_efficiency: 0.2 } });
    expect(value(solved(SET_B, poor), 'economizer.saving_fraction')).toBeLessThan(0);
  });
});

describe('best tank pressure', () => {
  const adjustable = machine({ economizer_adjustable: true });

  test('only where the economizer compressor can be adjusted', () => {
    expect(reason(solved(SET_C), 'economizer.best_tank_saturation_temperature')).toContain(
      'not configured as adjustable',
    );
    expect(solved(SET_C).unobservable).toContain('economizer.best_tank_saturation_temperature');
  });

  test('withheld at the optimum, where nothing is sure to be gained; given away from it, and nothing beats it there', () => {
    expect(reason(solved(SET_C, adjustable), 'economizer.best_tank_saturation_temperature')).toContain(
      'does not exceed',
    );
    const at = (p: number) => solved({ ...SET_B, 'flash_tank.pressure': good(p, 500) }, adjustable);
    const best = value(at(1.35 * P_TANK), 'economizer.best_tank_saturation_temperature');
    // a little above the geometric mean (20.07 degC), by the theory of two stages
    expect(best).toBeGreaterThan(20.07);
    expect(best).toBeLessThan(22);
    const saving = (p: number) => value(at(p), 'economizer.saving_fraction');
    const optimum = P_TANK * 1.015;
    expect(saving(optimum)).toBeGreaterThan(saving(1.1 * optimum));
    expect(saving(optimum)).toBeGreaterThan(saving(optimum / 1.1));
  });
});

test('one solver, the same snapshot, the same answer to the last bit', () => {
  const parameters = machine();
  expect(solved(SET_CD, parameters)).toEqual(solved(SET_CD, parameters));
});
