/**
 * Goal: a machine's ills are never taken for a wrong mapping, and what is said of a point names what people can act on.
 * Method: days of the emulated plant, sound and sick, in every load; single points made wrong by hand in a sound
 * minute. The slips themselves are shown over the real bus in tests/golden/check.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { fromSi, type UnitName } from '../../../agent/base/units.ts';
import { findMappingMistakes, type MappingFinding } from '../../../agent/diagnosis/mapping.ts';
import type { Otherwise, Reading } from '../../../agent/diagnosis/mistakes.ts';
import { pointDefinition } from '../../../agent/points/dictionary.ts';
import type { PointSpec, Snapshot } from '../../../agent/points/types.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { spec } from '../points/samples-of.ts';
import { recorded } from './recorded.ts';

const MACHINES = {
  'CH-1': { refrigerant: must(refrigerant('R134a')), rated_capacity: 1500 * 3516.853 },
  'CH-2': { refrigerant: must(refrigerant('R1233zdE')), rated_capacity: 900 * 3516.853 },
} as const;
type Name = keyof typeof MACHINES;

/** Every point in its catalogue unit, a pressure absolute. */
function readings(snapshot: Snapshot): Reading[] {
  return Object.entries(snapshot.points).map(([name, { value }]) => {
    const { unit } = pointDefinition(name);
    return {
      spec: spec({ name, unit, valid: [-1e9, 1e9] }),
      raw: fromSi(value as number, unit),
      reason: null,
      otherwise: [],
    };
  });
}

function found(machine: Name, given: readonly Reading[], air = 101_300): readonly MappingFinding[] {
  const running = given.find((each) => each.spec.name === 'unit.running')?.raw;
  return findMappingMistakes({ ...MACHINES[machine], readings: given, air: { local: air }, running: running === 1 });
}

describe.each(['CH-1', 'CH-2'] as const)('%s is never told wrong', (machine) => {
  test.each([
    ['sound', []],
    [
      'fouled, short of refrigerant, with air in it',
      ['fouled_condenser:40@0', 'undercharge:10@0', 'non_condensables:15@0'],
    ],
    ['at full load with the economizer held off', ['held_load:100@0', 'economizer_compressor_off:1@0']],
  ])('%s, over half a day', async (_, faults) => {
    const minutes = await recorded(machine, 12, '--seed', '7', ...faults.flatMap((fault) => ['--fault', fault]));
    const told = minutes
      .filter((_minute, index) => index % 20 === 19)
      .flatMap((snapshot) => found(machine, readings(snapshot)).map(({ code, message }) => `${code}: ${message}`));
    expect(minutes.length).toBeGreaterThan(700);
    expect(told).toEqual([]);
  });
});

describe('one point made wrong', async () => {
  const sound = readings((await recorded('CH-1', 1, '--seed', '7', '--hour', '15')).at(-1) as Snapshot);
  const change = (name: string, make: (reading: Reading) => Partial<Reading>): Reading[] =>
    sound.map((reading) => (reading.spec.name === name ? { ...reading, ...make(reading) } : reading));
  const respec = (name: string, specs: Partial<PointSpec>): Reading[] =>
    change(name, (reading) => ({ spec: { ...reading.spec, ...specs } }));

  test('nothing wrong, nothing said', () => expect(found('CH-1', sound)).toEqual([]));

  test('the fix is written as the site file would have it, with the value that comes of it', () => {
    const [only, ...more] = found('CH-1', respec('condenser.liquid_temperature', { unit: 'degF' }));
    expect(more).toEqual([]);
    expect(only).toMatchObject({ code: 'unit', points: ['condenser.liquid_temperature'], key: 'unit' });
    expect(only?.message).toMatch(
      /condenser liquid temperature reads 3\d\.\d+ °F \(.*\): .* unit: degC would make it 3\d\.\d+ °C/,
    );
  });

  test('at 1500 m a sealed gauge read as a vented one is told from the right one', () => {
    // The reading stands 16.8 kPa too low for the local barometer of 84.5 kPa.
    const vented = respec('evaporator.pressure', { unit: 'kPag', reference: 'vented_gauge' });
    const sealed = vented.map((reading) =>
      reading.spec.name === 'evaporator.pressure' ? { ...reading, raw: (reading.raw as number) - 101.325 } : reading,
    );
    const told = found('CH-1', sealed, 84_500);
    // 16.8 kPa is 1.4 K here: within what an approach may be, so either silence or the right word.
    expect(told.filter(({ code }) => code !== 'reference')).toEqual([]);
  });

  test('inches absolute said to be inches of vacuum are told as such', () => {
    const wrong = change('evaporator.pressure', (reading) => ({
      spec: { ...reading.spec, unit: 'inHg_vac', reference: 'vented_gauge' },
      raw: (reading.raw as number) / 3.386389,
    }));
    expect(found('CH-1', wrong)).toMatchObject([{ code: 'absolute_as_gauge', points: ['evaporator.pressure'] }]);
  });

  test('words in another order are told from an absurd value', () => {
    const group = 'unit 1 input float32';
    const other: Otherwise = { code: 'word_order', key: 'order', write: 'order: CDAB', raw: 580, group };
    const told = found(
      'CH-1',
      change('flash_tank.pressure', () => ({ raw: 2.3e-41, otherwise: [other] })),
    );
    expect(told).toMatchObject([{ code: 'word_order', points: ['flash_tank.pressure'], key: 'address.order' }]);
    // A filter that dies away leaves such numbers too: no other order makes sense of them.
    const dying = change('unit.power', (reading) => ({ raw: reading.raw }));
    expect(found('CH-1', dying)).toEqual([]);
  });

  test('a value that nothing explains is a contradiction, with the points that speak against it', () => {
    const told = found(
      'CH-1',
      change('evaporator.pressure', () => ({ raw: 431 })),
    );
    expect(told).toMatchObject([{ code: 'contradiction' }]);
    expect(told[0]?.points).toContain('evaporator.pressure');
    expect(told[0]?.points.length).toBeLessThanOrEqual(2);
    expect(told[0]?.message).toContain('chilled water leaving temperature');
  });

  test.each([
    ['not read', { raw: null, reason: 'exception 2: illegal data address' }, 'not_read'],
    ['not a number', { raw: null, reason: 'not a number' }, 'not_read'],
  ])('%s', (_, wrong, code) => {
    expect(
      found(
        'CH-1',
        change('condenser.level', () => wrong),
      ),
    ).toMatchObject([{ code, points: ['condenser.level'] }]);
  });

  test('of a standing machine only what holds at rest is judged', () => {
    const standing = change('unit.running', () => ({ raw: 0 }));
    const warm = standing.map((reading) =>
      reading.spec.name === 'condenser.pressure' ? { ...reading, raw: 300 } : reading,
    );
    expect(found('CH-1', warm)).toEqual([]);
  });
});

test.each<[UnitName, number]>([['kelvin', 300]])(
  'units without a likely confusion are left alone (%s)',
  (unit, raw) => {
    const reading: Reading = { spec: spec({ name: 'outdoor.temperature', unit }), raw, reason: null, otherwise: [] };
    expect(found('CH-1', [reading])).toEqual([]);
  },
);
