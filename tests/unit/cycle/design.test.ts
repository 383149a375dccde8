import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { design } from '../../../agent/cycle/design.ts';

const PARALLEL = {
  refrigerant: 'R134a',
  arrangement: 'parallel',
  evaporator: { T: 278.15 },
  tanks: [{ T: 293.15 }],
  condenser: { T: 310.15, subcooling: 4 },
  compressors: [{ isentropic_efficiency: 0.83 }, { isentropic_efficiency: 0.74 }],
};

describe('scale', () => {
  const whole = must(design({ ...PARALLEL, capacity: 5e6 }));

  test('capacity, flow and power describe one circuit', () => {
    const byFlow = must(design({ ...PARALLEL, flow: whole.flow }));
    const byPower = must(design({ ...PARALLEL, power: whole.power }));
    for (const other of [byFlow, byPower]) {
      expect(other.capacity / 5e6).toBeCloseTo(1, 12);
      expect(other.power / whole.power).toBeCloseTo(1, 12);
      expect(other.cop).toBeCloseTo(whole.cop, 12);
    }
  });

  test('drive efficiencies turn work into electrical power', () => {
    const compressors = [
      { isentropic_efficiency: 0.83, drive_efficiency: 0.95 },
      { isentropic_efficiency: 0.74, drive_efficiency: 0.9 },
    ];
    const driven = must(design({ ...PARALLEL, compressors, capacity: 5e6 }));
    expect(driven.metrics['main_compressor.power']).toBeCloseTo(
      (whole.metrics['main_compressor.power'] as number) / 0.95,
      9,
    );
    expect(driven.metrics['economizer_compressor.power']).toBeCloseTo(
      (whole.metrics['economizer_compressor.power'] as number) / 0.9,
      9,
    );
  });

  test('the efficiencies given come back', () => {
    expect(whole.metrics['main_compressor.isentropic_efficiency']).toBeCloseTo(0.83, 9);
    expect(whole.metrics['economizer_compressor.isentropic_efficiency']).toBeCloseTo(0.74, 9);
    expect(whole.metrics['main_compressor.polytropic_efficiency']).toBeGreaterThan(0.83);
  });

  test('what a design does not have is null', () => {
    for (const name of ['condenser.approach', 'evaporator.ua', 'unit.heat_balance_error', 'unit.load_fraction'])
      expect(whole.metrics[name], name).toBeNull();
  });
});

test('economizer off: the tank stays at its pressure, h6 = h3, and it costs what the saving says', () => {
  const on = must(design({ ...PARALLEL, capacity: 5e6 }));
  const off = must(design({ ...PARALLEL, economizer: 'off', capacity: 5e6 }));
  expect(Object.keys(off.states)).toEqual(['1', '2', '3', '4', '6']);
  expect(off.states['6']?.h).toBe(off.states['3']?.h);
  expect(1 - on.power / off.power).toBeCloseTo(on.metrics['economizer.saving_fraction'] as number, 9);
  const { tanks: _, ...tankless } = PARALLEL;
  expect(must(design({ ...tankless, economizer: 'off', capacity: 5e6 })).power).toBeCloseTo(off.power, 6);
});

describe('what cannot be read is refused with its key', () => {
  const fault = (record: unknown) => {
    const answer = design(record);
    if (answer.ok) throw new Error('accepted');
    return answer.fault;
  };
  test.each([
    [null, 'bad_record', 'expected object'],
    [{ ...PARALLEL, capacity: 1, flow: 1 }, 'bad_record', 'one of capacity, flow, power'],
    [PARALLEL, 'bad_record', 'one of capacity, flow, power'],
    [{ ...PARALLEL, capacity: -1 }, 'bad_record', 'capacity'],
    [{ ...PARALLEL, capacity: 1, tanks: [] }, 'bad_record', 'tanks'],
    [{ ...PARALLEL, capacity: 1, arrangement: 'simple' }, 'bad_record', 'tanks'],
    [{ ...PARALLEL, capacity: 1, arrangement: 'triple' }, 'bad_record', 'arrangement'],
    [{ ...PARALLEL, capacity: 1, evaporator: { p: 1e5, T: 278 } }, 'bad_record', 'evaporator'],
    [{ ...PARALLEL, capacity: 1, evaporator: undefined }, 'bad_record', 'evaporator'],
    [{ ...PARALLEL, capacity: 1, condenser: undefined }, 'bad_record', 'condenser'],
    [{ ...PARALLEL, capacity: 1, compressors: [] }, 'bad_record', 'compressors'],
    [{ ...PARALLEL, capacity: 1, compressors: [{ isentropic_efficiency: 0.8 }] }, 'bad_record', 'two'],
    [
      { ...PARALLEL, capacity: 1, compressors: [{ isentropic_efficiency: 1.2 }] },
      'bad_record',
      'isentropic_efficiency',
    ],
    [{ ...PARALLEL, capacity: 1, evaporater: {} }, 'bad_record', 'evaporater'],
    [{ ...PARALLEL, capacity: 1, refrigerant: 'R999' }, 'refrigerant_unknown', 'R999'],
    [{ ...PARALLEL, capacity: 1, evaporator: { T: 5 } }, 'refrigerant_out_of_range', 'R-134a'],
    [{ ...PARALLEL, capacity: 1, tanks: [{ T: 320 }] }, 'cycle_impossible', 'tank pressure'],
    [{ ...PARALLEL, capacity: 1, condenser: { T: 270 } }, 'cycle_impossible', 'condenser pressure'],
    [{ ...PARALLEL, capacity: 1, states: { 2: { p: 9e5, T: 290 } } }, 'cycle_impossible', 'enthalpy does not rise'],
    [{ ...PARALLEL, capacity: 1, states: { 2: { p: 9e5, T: 9000 } } }, 'refrigerant_out_of_range', 'states.2'],
  ])('%j', (record, code, word) => {
    const found = fault(record);
    expect(found.code).toBe(code);
    expect(found.message).toContain(word);
  });
});
