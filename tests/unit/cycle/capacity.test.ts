import { describe, expect, test } from 'vitest';
import type { PointValue } from '../../../agent/points/types.ts';
import {
  bad,
  CAPACITY,
  good,
  machine,
  POWER,
  reason,
  SET_B,
  SET_C,
  SET_CD,
  SET_D,
  solved,
  uncertainty,
  value,
} from './given.ts';

type Points = Record<string, PointValue>;

function without(points: Points, ...names: string[]): Points {
  return Object.fromEntries(Object.entries(points).filter(([name]) => !names.includes(name)));
}

describe('capacity', () => {
  test('the balance with the smaller uncertainty, said by unit.capacity_method', () => {
    const both = solved(SET_CD);
    expect(value(both, 'unit.capacity_method')).toBe(1);
    const flow = SET_CD['chilled_water.flow']?.value as number;
    const poor = solved({ ...SET_CD, 'chilled_water.flow': good(1.05 * flow, 0.1 * flow) });
    expect(value(poor, 'unit.capacity_method')).toBe(2);
    expect(uncertainty(poor, 'unit.capacity_from_power')).toBeLessThan(
      uncertainty(poor, 'unit.capacity_from_chilled_water'),
    );
    // both together are better than the better one, and lie between them
    expect(uncertainty(poor, 'unit.capacity')).toBeLessThan(uncertainty(poor, 'unit.capacity_from_power'));
    const each = [value(poor, 'unit.capacity_from_power'), value(poor, 'unit.capacity_from_chilled_water')];
    expect(value(poor, 'unit.capacity')).toBeGreaterThan(Math.min(...each));
    expect(value(poor, 'unit.capacity')).toBeLessThan(Math.max(...each));
  });

  test('a bad flow falls back to power, and is named where it alone could tell', () => {
    const found = solved({ ...SET_CD, 'chilled_water.flow': bad('register frozen') });
    expect(value(found, 'unit.capacity_method')).toBe(2);
    expect(found.metrics['unit.capacity']?.quality).toBe('good');
    expect(reason(found, 'unit.capacity_from_chilled_water')).toBe('chilled_water.flow is bad: register frozen');
    const alone = solved({ ...SET_D, 'chilled_water.flow': bad('register frozen') });
    expect(reason(alone, 'unit.kw_per_ton')).toBe('chilled_water.flow is bad: register frozen');
  });

  test('none: all three reasons', () => {
    const text = reason(solved(SET_B), 'unit.capacity');
    for (const part of ['chilled_water.flow', 'main_compressor.discharge_temperature', 'condenser_water.flow'])
      expect(text).toContain(part);
  });

  test('condenser water less power, where it is all there is', () => {
    const flow = (CAPACITY + POWER) / (994.6 * 4178.5 * 5.5);
    const found = solved({
      ...without(SET_C, 'main_compressor.discharge_temperature'),
      'condenser_water.flow': good(flow, 0.01 * flow),
    });
    expect(value(found, 'unit.capacity_method')).toBe(3);
    expect(value(found, 'unit.capacity')).toBeCloseTo(CAPACITY / 1e3, -1);
    expect(value(found, 'main_compressor.isentropic_efficiency')).toBeCloseTo(0.83, 2);
  });

  test('power from open drives reaches the circuit less the losses of the motor', () => {
    const flow = (CAPACITY + POWER) / (994.6 * 4178.5 * 5.5);
    const points = { ...SET_CD, 'condenser_water.flow': good(flow, 0.01 * flow) };
    const drive = { drive_efficiency: 0.9 };
    const hermetic = solved(points, machine({ main_compressor: drive, economizer_compressor: drive }));
    const open = solved(
      points,
      machine({ main_compressor: { ...drive, motor: 'open' }, economizer_compressor: { ...drive, motor: 'open' } }),
    );
    const by =
      value(open, 'unit.capacity_from_condenser_water') - value(hermetic, 'unit.capacity_from_condenser_water');
    expect(by).toBeCloseTo((0.1 * POWER) / 1e3, 6);
    expect(value(open, 'unit.heat_balance_error')).toBeLessThan(value(hermetic, 'unit.heat_balance_error'));
  });
});

describe('power', () => {
  // without a water flow: nothing stands beside the meters that would correct them
  const meters = without(SET_C, 'unit.power');

  test('the compressors together where the chiller has no meter', () => {
    const found = solved({
      ...meters,
      'main_compressor.power': good(747_400, 7474),
      'economizer_compressor.power': good(47_500, 475),
    });
    expect(value(found, 'unit.power')).toBeCloseTo(794.9, 9);
    expect(uncertainty(found, 'unit.power')).toBeCloseTo((2 * Math.hypot(7474, 475)) / 1e3, 6);
  });

  test('amps x volts x power factor x sqrt 3 to 6 %, 15 % at low load', () => {
    const electric = (amps: number) => ({
      'main_compressor.current': good(amps, 0.02 * amps),
      'main_compressor.voltage': good(4160, 41.6),
      'main_compressor.power_factor': good(0.9, 0.027),
    });
    const points = { ...meters, 'economizer_compressor.running': good(0) };
    const full = solved({ ...points, ...electric(120) });
    expect(value(full, 'unit.power')).toBeCloseTo((Math.sqrt(3) * 120 * 4160 * 0.9) / 1e3, 6);
    expect(uncertainty(full, 'unit.power') / 2 / value(full, 'unit.power')).toBeCloseTo(0.06, 4);
    const low = solved({ ...points, ...electric(40) });
    expect(uncertainty(low, 'unit.power') / 2 / value(low, 'unit.power')).toBeCloseTo(0.15, 4);
  });

  test('auxiliary power is in the meter of the chiller, and in no compressor', () => {
    const plain = solved(SET_C);
    const found = solved(SET_C, machine({ auxiliary_power: '5 kW' }));
    expect(value(found, 'unit.power')).toBe(value(plain, 'unit.power'));
    const part = 1 - 5e3 / POWER;
    for (const name of ['unit.capacity', 'main_compressor.power', 'economizer_compressor.power'])
      expect(value(found, name) / value(plain, name), name).toBeCloseTo(part, 9);
    const rejected = value(plain, 'unit.capacity') + POWER / 1e3;
    expect(value(found, 'condenser.heat_rejected') / rejected).toBeCloseTo(part, 9);
    // a meter of the compressor itself counts none of it
    const own = { ...without(SET_C, 'unit.power'), 'main_compressor.power': good(747_400, 7474) };
    expect(value(solved(own, machine({ auxiliary_power: '5 kW' })), 'main_compressor.power')).toBeCloseTo(747.4, 9);
  });

  test('what a drive loses at part load is less sure than at full load', () => {
    const driven = machine({ main_compressor: { drive_efficiency: 0.945 } });
    const share = (part: number) => {
      const found = solved({ ...SET_C, 'unit.power': good(part * POWER, 0) }, driven);
      return uncertainty(found, 'main_compressor.mass_flow') / value(found, 'main_compressor.mass_flow');
    };
    expect(share(0.3)).toBeGreaterThan(share(1) * 1.1);
  });

  test('a bad meter is named where nothing stands in for it', () => {
    const found = solved({ ...SET_CD, 'unit.power': bad('frozen for 3600 s') });
    for (const name of ['unit.power', 'unit.kw_per_ton', 'economizer.power_saved'])
      expect(reason(found, name), name).toBe('unit.power is bad: frozen for 3600 s');
  });

  test('current alone is no power', () => {
    const found = solved({ ...meters, 'main_compressor.current': good(120, 2) });
    expect(reason(found, 'unit.power')).toContain('percent current is no power');
    expect(found.unobservable).toContain('unit.power');
  });

  test('a measured economizer compressor leaves the rest to the main one', () => {
    const found = solved({ ...SET_C, 'economizer_compressor.power': good(50_000, 500) });
    expect(value(found, 'main_compressor.power')).toBeCloseTo(POWER / 1e3 - 50, 9);
    // its power and flow give its efficiency without a discharge temperature
    expect(value(found, 'economizer_compressor.isentropic_efficiency')).toBeCloseTo((0.74 * 47.49) / 50, 2);
  });
});

test('heat exchangers and Carnot, worked by hand', () => {
  const found = solved(SET_CD);
  const capacity = value(found, 'unit.capacity');
  expect(value(found, 'evaporator.approach')).toBeCloseTo(1.5, 6);
  expect(value(found, 'condenser.approach')).toBeCloseTo(2, 6);
  // 12, 6.5 degC against 5 degC; 29.5, 35 degC against 37 degC
  expect(value(found, 'evaporator.ua')).toBeCloseTo(capacity / (5.5 / Math.log(7 / 1.5)), 2);
  expect(value(found, 'condenser.heat_rejected')).toBeCloseTo(capacity + POWER / 1e3, 6);
  expect(value(found, 'condenser.ua')).toBeCloseTo((capacity + POWER / 1e3) / (5.5 / Math.log(7.5 / 2)), 2);
  expect(value(found, 'unit.carnot_fraction')).toBeCloseTo(((capacity / (POWER / 1e3)) * 28.5) / 279.65, 6);
  expect(value(found, 'unit.load_fraction')).toBeCloseTo(capacity / 5275.28, 6);
});

describe('motor cooling', () => {
  const cooled = machine({
    motor_cooling: true,
    main_compressor: { drive_efficiency: 0.95, assumed_isentropic_efficiency: 0.83 },
  });

  test('P(1 - eta)/(h1 - h3) returns to the main suction: 0.8 % of the flow, and the shaft lifts it too', () => {
    for (const points of [SET_C, SET_D]) {
      const found = solved(points, cooled);
      const h = (node: string) => found.states[node]?.h as number;
      const power = value(found, 'main_compressor.power') * 1e3;
      const [main, evaporator] = [value(found, 'main_compressor.mass_flow'), value(found, 'evaporator.mass_flow')];
      expect(main - evaporator).toBeCloseTo((0.05 * power) / (h('1') - h('3')), 6);
      expect(main / evaporator - 1).toBeCloseTo(0.008, 3);
      expect((main * (h('2') - h('1'))) / (0.95 * power)).toBeCloseTo(1, 9);
    }
  });
});
