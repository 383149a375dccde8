/** Two stages solved from points that a forward calculation of the same condition gives: a machine of 900 tons. */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { interstage } from '../../../agent/cycle/arrangements/interstage.ts';
import type { Circuit } from '../../../agent/cycle/arrangements/type.ts';
import { energyResidual, type Flows, massResidual } from '../../../agent/cycle/balances.ts';
import { openBooks } from '../../../agent/cycle/books.ts';
import { design } from '../../../agent/cycle/design.ts';
import { tablesOf } from '../../../agent/cycle/tables.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import type { State } from '../../../agent/refrigerant/types.ts';
import { bad, good, reason, snapshot, solved, uncertainty, value } from './given.ts';
import { CAPACITY, CONDITION, chilled, condensing, OFF, ON, POINTS, pointsOf, two, without } from './two-stages.ts';

describe('vapour line open', () => {
  const found = solved(POINTS, two());

  test('nine states with flows, and the circuit without economizer beside them', () => {
    expect(found.economizer).toBe('on');
    expect(Object.keys(found.states).sort()).toEqual(['1', '10', '2', '3', '4', '5', '6', '7', '9']);
    expect(Object.keys(found.ghost).sort()).toEqual(['1', '10', '3', '6']);
    for (const [node, made] of Object.entries(ON.states)) {
      expect((found.states[node]?.h as number) / made.h, node).toBeCloseTo(1, 8);
      expect((found.states[node]?.m as number) / (made.m as number), node).toBeCloseTo(1, 6);
    }
    const m = (node: string) => found.states[node]?.m as number;
    expect(m('2') + m('7')).toBeCloseTo(m('10'), 9);
    expect(m('3')).toBeCloseTo(m('10'), 9);
    expect(m('5')).toBeCloseTo(m('2'), 9);
  });

  test('h9 = (1 - x4) h2 + x4 h7, and W = m_e [(h10 - x4 h7)/(1 - x4) - h1]', () => {
    const h = (node: string) => found.states[node]?.h as number;
    const x4 = value(found, 'flash_tank.flash_fraction');
    expect(h('9')).toBeCloseTo((1 - x4) * h('2') + x4 * h('7'), 3);
    const W = value(found, 'evaporator.mass_flow') * ((h('10') - x4 * h('7')) / (1 - x4) - h('1'));
    expect(W / ON.power).toBeCloseTo(1, 6);
  });

  test('the efficiency of both stages comes back; an isentropic one over both is refused with the reason', () => {
    expect(value(found, 'main_compressor.polytropic_efficiency')).toBeCloseTo(0.82, 6);
    expect(reason(found, 'main_compressor.isentropic_efficiency')).toContain('no meaning');
  });

  test('saving: against one compression of the same polytropic efficiency, with bounds', () => {
    const s = value(found, 'economizer.saving_fraction');
    expect(s).toBeCloseTo(1 - ON.power / OFF.power, 6);
    expect(value(found, 'economizer.saving_fraction_low')).toBeCloseTo(1 - (1 - s) * 1.03, 12);
    expect(value(found, 'economizer.saving_fraction_high')).toBeCloseTo(1 - (1 - s) * 0.97, 12);
    expect(value(found, 'economizer.power_saved') * 1e3).toBeCloseTo(OFF.power - ON.power, -1);
    expect(found.ghost['10']?.h).toBeCloseTo(OFF.states['10']?.h as number, 2);
    expect(value(found, 'economizer.suction_volume_flow_without')).toBeCloseTo(
      OFF.metrics['main_compressor.suction_volume_flow'] as number,
      6,
    );
  });

  test('lifts of the stages: 15 and 17 K of 32', () => {
    expect(value(found, 'main_compressor.first_stage_lift')).toBeCloseTo(15, 6);
    expect(value(found, 'main_compressor.second_stage_lift')).toBeCloseTo(17, 6);
    expect(value(found, 'main_compressor.lift')).toBeCloseTo(32, 6);
  });

  test('what only a compressor of its own could have is missing and never observable', () => {
    const names = Object.keys(found.metrics).filter((name) => name.startsWith('economizer_compressor.'));
    expect(names.length).toBeGreaterThan(8);
    const more = ['economizer.best_tank_saturation_temperature', 'subcooling.economizer_power_avoided'];
    for (const name of [...names, ...more]) {
      expect(reason(found, name), name).toBe('this arrangement has no economizer compressor');
      expect(found.unobservable, name).toContain(name);
    }
  });

  test('every other metric of the cycle is there', () => {
    const all = solved({ ...POINTS, ...chilled(CAPACITY), ...condensing(CAPACITY + ON.power) }, two());
    const gone = Object.keys(all.metrics).filter(
      (name) => all.metrics[name]?.value === null && !/^(economizer_compressor|flash_tank_2)\./.test(name),
    );
    expect(gone.sort()).toEqual([
      'condenser.storage_mass_flow',
      'economizer.approach',
      'economizer.best_tank_saturation_temperature',
      'economizer.condensing_temperature_without',
      'economizer.liquid_cooling',
      'economizer.missed_saving',
      'economizer.missed_saving_fraction',
      'economizer.saturation_temperature',
      'economizer.saving_fraction_resolved',
      'economizer.vapour_fraction',
      'economizer.vapour_mass_flow',
      'flash_tank.storage_mass_flow',
      'main_compressor.isentropic_efficiency',
      'main_compressor.surge_margin',
      'main_compressor.third_stage_lift',
      'subcooling.economizer_power_avoided',
    ]);
  });
});

describe('capacity', () => {
  test('from power, from chilled water, from condenser water: one machine', () => {
    for (const [method, points] of [
      [2, POINTS],
      [1, { ...POINTS, ...chilled(CAPACITY) }],
      [3, { ...without(POINTS, 'main_compressor.discharge_temperature'), ...condensing(CAPACITY + ON.power) }],
    ] as const) {
      const found = solved(points, two());
      expect(value(found, 'unit.capacity_method')).toBe(method);
      expect(value(found, 'unit.capacity') / (CAPACITY / 1e3)).toBeCloseTo(1, 3);
      // without discharge temperature the efficiency comes from power and flow
      expect(value(found, 'main_compressor.polytropic_efficiency')).toBeCloseTo(0.82, 2);
    }
  });

  test('without tank pressure nothing but lifts and approaches', () => {
    const found = solved(without(POINTS, 'flash_tank.pressure'), two());
    for (const name of ['unit.capacity', 'main_compressor.polytropic_efficiency', 'economizer.saving_fraction'])
      expect(reason(found, name), name).toContain('flash_tank.pressure is not measured');
    expect(value(found, 'main_compressor.lift')).toBeCloseTo(32, 6);
  });
});

test('assumed efficiency: saving without discharge temperature and power, with the doubt of the assumption in it', () => {
  const points = without(POINTS, 'main_compressor.discharge_temperature', 'unit.power');
  const found = solved(points, two({ main_compressor: { assumed_isentropic_efficiency: 0.815 } }));
  // the comparison hardly depends on the efficiency
  expect(value(found, 'economizer.saving_fraction')).toBeCloseTo(ON.metrics['economizer.saving_fraction'] as number, 3);
  expect(uncertainty(found, 'economizer.saving_fraction')).toBeGreaterThan(0);
  expect(found.unobservable).toContain('main_compressor.polytropic_efficiency');
});

describe('vapour line closed', () => {
  const found = solved(pointsOf(OFF, 0), two());

  test('one compression, h6 = h3; what is between the stages is not known', () => {
    expect(found.economizer).toBe('off');
    expect(Object.keys(found.states).sort()).toEqual(['1', '10', '3', '4', '6']);
    expect(found.states['6']?.h).toBe(found.states['3']?.h);
    for (const name of [
      'main_compressor.first_stage_lift',
      'main_compressor.second_stage_lift',
      'flash_tank.flash_fraction',
    ])
      expect(reason(found, name), name).toBe('the economizer is off');
    expect(value(found, 'unit.capacity') / (CAPACITY / 1e3)).toBeCloseTo(1, 6);
    expect(value(found, 'main_compressor.polytropic_efficiency')).toBeCloseTo(0.82, 6);
    expect(value(found, 'main_compressor.isentropic_efficiency')).toBeCloseTo(0.815, 2);
  });

  test('the circuit with economizer beside it, and what is missed', () => {
    expect(Object.keys(found.ghost).sort()).toEqual(['1', '10', '2', '3', '4', '5', '6', '7', '9']);
    // the tank pressure that would be is taken at 1.04 times the geometric mean
    const { p: low } = found.states['1'] as { p: number };
    const { p: high } = found.states['3'] as { p: number };
    const p = 1.04 * Math.sqrt(low * high);
    const with_ = must(design({ ...CONDITION, tanks: [{ p }] }));
    for (const node of ['2', '9', '10'])
      expect(found.ghost[node]?.h, node).toBeCloseTo(with_.states[node]?.h as number, 1);
    expect(value(found, 'economizer.missed_saving_fraction')).toBeCloseTo(1 - with_.power / OFF.power, 6);
    expect(found.metrics['economizer.missed_saving']?.quality).toBe('uncertain');
  });
});

test('no point tells of the vapour line: taken as open, and every figure that leans on it is uncertain', () => {
  const found = solved(without(POINTS, 'economizer.running'), two());
  expect(found.economizer).toBe('unknown');
  for (const name of ['unit.capacity', 'flash_tank.flash_fraction', 'main_compressor.first_stage_lift'])
    expect(reason(found, name), name).toBe(
      'no point says whether the vapour line of the economizer is open: taken as open',
    );
  expect(found.metrics['main_compressor.lift']?.quality).toBe('good');
});

test('a discharge without superheat tells nothing: the reason is said, power and water flow stand in', () => {
  const wet = good((POINTS['condenser.pressure']?.value as number) > 0 ? 310.2 : 0, 0.7);
  const points = { ...POINTS, 'main_compressor.discharge_temperature': wet };
  expect(reason(solved(points, two()), 'main_compressor.polytropic_efficiency')).toContain('no superheat');
  const found = solved({ ...points, ...chilled(CAPACITY) }, two());
  expect(value(found, 'main_compressor.polytropic_efficiency')).toBeCloseTo(0.82, 2);
});

test('a bad tank pressure is named, its temperature stands in', () => {
  const gone = { ...POINTS, 'flash_tank.pressure': bad('frozen for 3600 s') };
  expect(reason(solved(gone, two()), 'flash_tank.flash_fraction')).toBe(
    'flash_tank.pressure is bad: frozen for 3600 s',
  );
  const found = solved({ ...gone, 'flash_tank.temperature': good(293.15, 0.3) }, two());
  expect(value(found, 'flash_tank.flash_fraction')).toBeCloseTo(ON.metrics['flash_tank.flash_fraction'] as number, 6);
});

describe.each([
  [true, false],
  [true, true],
  [false, true],
])('balances, economizer %s, motor cooling %s', (economizing, motor_cooling) => {
  const parameters = two({ motor_cooling, main_compressor: { drive_efficiency: 0.94 } });
  const fluid = must(refrigerant('R1233zdE'));
  // no meter: power is that of flow and work, and cools the motor
  const metered = { ...pointsOf(economizing ? ON : OFF, economizing ? 1 : 0), ...chilled(CAPACITY) };
  const points = without(metered, 'unit.power');
  const tables = tablesOf('interstage');
  const { base } = openBooks({ parameters, fluid, tables }, snapshot(points), { uncertainty: false });
  base.capacityMethod = 'chilled_water';
  const figure = (name: string) => base.entry(name) as number;
  const flows = base.entry('flows') as Flows;
  const motor = motor_cooling ? figure('main_compressor.power') * 0.06 : 0;
  const m = (stream: string) => flows[stream] as number;
  const h = (node: string) => (base.entry(`state:${node}`) as State).h;
  const given: Record<string, number> = {
    'evaporator.heat': figure('unit.capacity'),
    'main_compressor.motor_heat': motor,
    'main_compressor.shaft_power':
      m('condenser') * h('10') - m('main') * h('1') - (economizing ? m('vapour') * h('7') : 0),
  };
  given['condenser.heat'] =
    (given['evaporator.heat'] as number) + motor + (given['main_compressor.shaft_power'] as number);
  const lookup = (name: string): number => {
    if (name.startsWith('m:')) return m(name.slice(2));
    return name.startsWith('h:') ? h(name.slice(2)) : (given[name] as number);
  };

  test('mass and energy close, the condenser on the whole', () => {
    for (const junction of base.circuit.junctions)
      expect(Math.abs(massResidual(junction, lookup)), junction.name).toBeLessThan(1e-9);
    // of 3 MW
    for (const balance of base.circuit.balances)
      expect(Math.abs(energyResidual(balance, lookup)), balance.name).toBeLessThan(1);
  });

  test('electrical work per kilogram is that shaft power over the drive, motor cooling lifted too', () => {
    const electric = figure('specific_power:main_compressor') * m('evaporator');
    expect((given['main_compressor.shaft_power'] as number) / 0.94 / electric).toBeCloseTo(1, 9);
    expect(m('main') / m('evaporator') - 1).toBeCloseTo(motor_cooling ? 0.0105 : 0, 2);
  });

  if (economizing)
    test('between the stages both flows mix', () => {
      const mixed = (m('main') * h('2') + m('vapour') * h('7')) / m('condenser');
      expect(h('9')).toBeCloseTo(mixed, 3);
    });
});

test('the tables of the arrangement: nodes in order, balances over named quantities', () => {
  for (const circuit of [interstage.on, interstage.off as Circuit, interstage.without as Circuit]) {
    const seen = new Set<string>();
    const streams = new Set(circuit.junctions.flatMap(({ enters, leaves }) => [...enters, ...leaves]));
    for (const { number, rule, stream } of circuit.nodes) {
      if (rule.kind === 'expansion') expect(seen.has(rule.from), number).toBe(true);
      expect(streams.has(stream), number).toBe(true);
      seen.add(number);
    }
    for (const { enters, leaves } of circuit.balances)
      for (const { stream, node } of [...enters, ...leaves])
        expect([seen.has(node), streams.has(stream)], `${stream} ${node}`).toEqual([true, true]);
  }
});
