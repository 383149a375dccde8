// Goal: the shipped alarms are whole, quiet on a machine as it should be, loud on one that is not, and a site file can
// change, switch off and take out of service each within what is allowed. Ordinary figures: the reference circuit of
// R-134a at 5/37 degC recomputed with CoolProp (subcooling 4 K, lift 32 K); the others common practice, no source.
// Water freezes at 0 degC (ITS-90).
import { describe, expect, test } from 'vitest';
import { commanded } from '../../../agent/alarms/commands.ts';
import { type AlarmStates, evaluateAlarms } from '../../../agent/alarms/evaluate.ts';
import { firstState } from '../../../agent/alarms/life.ts';
import type { AlarmRule } from '../../../agent/alarms/rules.ts';
import { SHIPPED } from '../../../agent/alarms/shipped.ts';
import { POINTS } from '../../../agent/points/dictionary.ts';
import { readSite } from '../../../agent/site/site.ts';

/** Points that only other arrangements have. */
const ELSEWHERE = /^(flash_tank_2|tank_valve_2|economizer_valve|hot_gas_bypass|economizer)\./;
const EVERY_POINT = Object.keys(POINTS).filter((name) => !ELSEWHERE.test(name));
/** A machine of three stages, whose second tank has a loop of its own. */
const THREE_STAGES = { arrangement: 'interstage', stages: 3 };
const SECOND_TANK = Object.keys(POINTS).filter((name) => /^(flash_tank_2|tank_valve_2)\./.test(name));

/** With every point, a clean period and a surge line, so that every shipped alarm has its figure. */
function site(alarms: readonly object[] = [], points: readonly string[] = EVERY_POINT, machine: object = {}) {
  const entries = points.map((name, i) => {
    const { dimension, unit } = POINTS[name] as (typeof POINTS)[string];
    const given = ['state', 'count'].includes(dimension) ? {} : { unit };
    const span = dimension === 'pressure' ? { span: '2000 kPa', reference: 'absolute' } : {};
    const fast = name.endsWith('.level') ? { fast: true } : {};
    return [name, { address: { table: 'holding', register: i }, ...given, ...span, ...fast }];
  });
  return readSite({
    version: 1,
    site: { id: 'plant-room', name: 'Plant room', time_zone: 'UTC', barometer: '101.3 kPa' },
    chillers: [
      {
        id: 'CH-1',
        machine: {
          refrigerant: 'R134a',
          arrangement: 'parallel',
          rated_capacity: '1500 ton',
          surge_line: [
            [0.4, 0.012],
            [0.55, 0.018],
          ],
          ...machine,
        },
        source: { modbus: { host: '10.0.0.5' } },
        points: Object.fromEntries(entries),
        alarms,
        ...(points === EVERY_POINT ? { baseline: { from: '2026-05-01', to: '2026-06-30' } } : {}),
      },
    ],
  });
}

function rules(...given: Parameters<typeof site>): readonly AlarmRule[] {
  const read = site(...given);
  if (!read.ok) throw new Error(JSON.stringify(read.fault));
  return read.value.chillers[0]?.alarms ?? [];
}

function faults(alarms: readonly object[], points?: readonly string[]): string[] {
  const read = site(alarms, points);
  return read.ok ? [] : read.fault.map(({ path, message }) => `${path.slice(2).join('.')}: ${message}`);
}

const ids = (list: readonly { readonly id: string }[]): string[] => list.map(({ id }) => id).sort();
const STANDING = ids(SHIPPED.filter(({ needs }) => needs === undefined));

/** A machine as it should be; catalogue units. */
const ORDINARY: Readonly<Record<string, number>> = {
  'evaporator.saturation_temperature': 5,
  'chilled_water.leaving_temperature': 6,
  'condenser.saturation_temperature': 37,
  'main_compressor.lift': 32,
  'condenser.subcooling': 4,
  'condenser.level': 0.4,
  'flash_tank.level': 0.5,
  'flash_tank_2.level': 0.5,
  'condenser.approach': 1.2,
  'evaporator.approach': 1,
  'economizer_compressor.suction_quality': 1,
  'main_compressor.discharge_temperature': 46,
  'unit.starts_per_hour': 1,
  'economizer.missed_saving_fraction': 0,
  'condenser_valve.hunting_index': 0.1,
  'tank_valve.hunting_index': 0.1,
  'tank_valve_2.hunting_index': 0.1,
  'condenser_valve.position': 0.4,
  'tank_valve.position': 0.4,
  'tank_valve_2.position': 0.4,
  'oil.supply_temperature': 48,
  'refrigerant_detector.alarm': 0,
  'unit.kw_per_ton_deviation': 0.01,
  'condenser.excess_pressure': 1,
  'main_compressor.surge_margin': 0.2,
};

/** One figure as it should not be, for each alarm that stands by itself. */
const ILL: Readonly<Record<string, number>> = {
  'evaporator-freezing': 0,
  'chilled-water-cold': 2.5,
  'condensing-temperature-high': 47,
  'lift-low': 5,
  'subcooling-lost': 0,
  'condenser-level-low': 0.01,
  'tank-level-low': 0.01,
  'tank-level-high': 0.95,
  'second-tank-level-low': 0.01,
  'second-tank-level-high': 0.95,
  'condenser-approach': 6,
  'evaporator-approach': 6,
  'economizer-carry-over': 0.95,
  'discharge-temperature-high': 95,
  'starts-often': 3,
  'economizer-off': 0.05,
  'condenser-valve-hunting': 0.8,
  'tank-valve-hunting': 0.8,
  'second-tank-valve-hunting': 0.8,
  'condenser-valve-limit': 1,
  'tank-valve-limit': 1,
  'second-tank-valve-limit': 1,
  'oil-temperature-high': 75,
  'refrigerant-detected': 1,
  'power-above-baseline': 0.1,
  'condenser-excess-pressure': 25,
  'surge-margin-low': 0.02,
};

/** Alarms that stand after an hour of such figures; uncertainty expanded, as a share of the limit. */
function standing(figures: Readonly<Record<string, number>>, list: readonly AlarmRule[], uncertainty = 0): string[] {
  let states: AlarmStates = {};
  let open: readonly { readonly id: string }[] = [];
  for (let i = 1; i <= 60; i++) {
    const outcome = evaluateAlarms(states, list, {
      chiller: 'CH-1',
      time: i * 60_000,
      interval_s: 60,
      running: true,
      steady: true,
      running_for_s: 7200,
      figures: Object.fromEntries(
        Object.entries(figures).map(([name, value]) => [name, { value, uncertainty, quality: 'good', reason: null }]),
      ),
      link: { state: 'connected', reason: null },
      implausible: [],
      suspects: [],
      commands: [],
    });
    states = outcome.states;
    open = outcome.open;
  }
  return ids(open);
}

describe('the shipped alarms', () => {
  test('are whole: id of its own, words, a limit or what the site is to give', () => {
    expect(new Set(ids(SHIPPED)).size).toBe(SHIPPED.length);
    for (const alarm of SHIPPED) {
      for (const key of ['title', 'cause', 'consequence', 'action', 'reason', 'respond_within'] as const)
        expect(alarm[key].length, `${alarm.id} ${key}`).toBeGreaterThan(2);
      const limits = [alarm.above, alarm.below, alarm.needs].filter((one) => one !== undefined);
      expect(limits, alarm.id).toHaveLength(1);
    }
  });

  const secondTank = rules([], SECOND_TANK, THREE_STAGES);

  test('with a limit stand by themselves where their figure is measured, the others wait', () => {
    const ofSecond = ids(secondTank).filter((id) => id.startsWith('second-tank'));
    expect(ofSecond).toHaveLength(4);
    expect([...ids(rules()), ...ofSecond].sort()).toEqual(STANDING);
    expect(STANDING).toEqual(Object.keys(ILL).sort());
  });

  test('are left out where the points never give their figure', () => {
    expect(ids(rules([], ['unit.running', 'chilled_water.leaving_temperature', 'evaporator.pressure']))).toEqual([
      'chilled-water-cold',
      'evaporator-approach',
      'evaporator-freezing',
      'starts-often',
    ]);
  });

  test('say nothing of a machine as it should be', () => {
    expect(standing(ORDINARY, rules())).toEqual([]);
  });

  test.each(Object.entries(ILL))('%s is raised by %d, and it alone', (id, value) => {
    const watch = SHIPPED.find((alarm) => alarm.id === id)?.watch ?? '';
    const list = id.startsWith('second-tank') ? secondTank : rules();
    expect(standing({ ...ORDINARY, [watch]: value }, list)).toEqual([id]);
  });

  test('freezing is told before water freezes, and not at an ordinary set point', () => {
    const limits = rules().filter(({ id }) => id === 'evaporator-freezing' || id === 'chilled-water-cold');
    for (const { limit } of limits) {
      expect(limit).toBeGreaterThan(0);
      expect(limit).toBeLessThan(4.5);
    }
  });

  test('an approach beyond its limit by less than its uncertainty is not told', () => {
    const figures = { ...ORDINARY, 'condenser.approach': 4.4 };
    expect(standing(figures, rules(), 0.3)).toEqual(['condenser-approach']);
    expect(standing(figures, rules(), 0.5)).toEqual([]);
  });
});

describe('freeze, oil and refrigerant detectors', () => {
  const never = SHIPPED.filter((alarm) => alarm.protected === true);
  test('are these', () => {
    expect(ids(never)).toEqual([
      'chilled-water-cold',
      'chilled-water-flow-low',
      'evaporator-freezing',
      'evaporator-pressure-low',
      'oil-pressure-low',
      'oil-sump-cold',
      'oil-temperature-high',
      'refrigerant-detected',
    ]);
  });

  test.each(ids(never))('%s is not shelved', (id) => {
    const shelve = {
      verb: 'shelve',
      chiller: 'CH-1',
      alarm: id,
      by: 'x',
      reason: 'y',
      until: null,
      raised: null,
    } as const;
    const refused = commanded(firstState(0), shelve, { id, protected: true }, 0);
    expect(refused).toMatchObject({ ok: false, fault: { code: 'alarm_command' } });
    if (!refused.ok) expect(refused.fault.message).toMatch(/never shelved/);
  });

  test.each(ids(never))(
    '%s is neither switched off nor made shelvable, but goes out of service with a reason',
    (id) => {
      const limit = SHIPPED.find((alarm) => alarm.id === id)?.needs === undefined ? {} : { below: limitFor(id) };
      expect(faults([{ id, enabled: false }]).join()).toMatch(/never switched off.*out_of_service/);
      expect(faults([{ id, protected: false, ...limit }]).join()).toMatch(/never shelved/);
      const [rule] = rules([{ id, out_of_service: 'sensor dismantled', ...limit }]).filter((one) => one.id === id);
      expect(rule).toMatchObject({ out_of_service: 'sensor dismantled', protected: true });
    },
  );
});

function limitFor(id: string): string {
  if (id === 'chilled-water-flow-low') return '1200 gpm';
  return id === 'oil-sump-cold' ? '45 degC' : '200 kPa';
}

describe('a site file', () => {
  test('changes what it names and leaves the rest', () => {
    const [rule] = rules([{ id: 'condenser-approach', above: '9 delta_degF' }]).filter(
      ({ id }) => id === 'condenser-approach',
    );
    expect(rule).toMatchObject({
      limit: 5,
      deadband: 0.5,
      on_delay_s: 1800,
      when: 'steady',
      respond_within_s: 604_800,
    });
  });

  test('may mean the other side of a limit', () => {
    const [rule] = rules([{ id: 'lift-low', above: '40 K' }]).filter(({ id }) => id === 'lift-low');
    expect(rule).toMatchObject({ side: 'above', limit: 40 });
  });

  test('switches one off', () => {
    expect(ids(rules([{ id: 'lift-low', enabled: false }]))).not.toContain('lift-low');
  });

  test.each([
    [[{ id: 'lift-lo', enabled: false }], /only a shipped alarm can be switched off/],
    [[{ id: 'lift-high' }], /alarms\.0: give 'above': design lift/],
    [[{ id: 'mine', above: '3 K' }], /alarms\.0\.title: /],
    [[{ id: 'lift-low', above: '3 K', below: '1 K' }], /exactly one of 'above' and 'below'/],
    [[{ id: 'condenser-approach' }, { id: 'condenser-approach' }], /id of another alarm already/],
  ])('with a mistake is told: %j', (alarms, message) => {
    expect(faults(alarms).join('\n')).toMatch(message);
  });

  test('asks in vain for hunting where the level is not polled fast', () => {
    const points = ['unit.running', 'evaporator.pressure', 'condenser.pressure', 'condenser_valve.position'];
    expect(faults([{ id: 'condenser-valve-hunting' }], points).join()).toMatch(/needs condenser\.level, polled fast/);
  });
});
