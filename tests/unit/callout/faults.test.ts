/**
 * Goal: whoever opens a packet finds causes, checks and cautions, whatever the alarm. The list of faults is that of the
 * trade for water-cooled centrifugal chillers: the seven of ASHRAE RP-1043 (Comstock & Braun 1999, from memory: reduced
 * condenser and evaporator flow, leak, overcharge, condenser fouling, non-condensables, excess oil) and those of
 * economizer, level valves, compressors and sensors (common practice, no source).
 */
import { describe, expect, test } from 'vitest';
import { watchable } from '../../../agent/alarms/rules.ts';
import { candidates, FAULTS, type FaultId } from '../../../agent/callout/candidates.ts';
import { CAUTIONS, cautionsOf } from '../../../agent/callout/cautions.ts';
import type { FaultEntry } from '../../../agent/callout/fault.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { REFRIGERANTS } from '../../../agent/refrigerant/refrigerants.ts';

const NAMED: readonly FaultId[] = [
  'fouled_condenser_tubes',
  'fouled_evaporator_tubes',
  'low_condenser_water_flow',
  'low_chilled_water_flow',
  'non_condensables',
  'undercharge',
  'overcharge',
  'excess_oil',
  'condenser_valve',
  'tank_valve',
  'tank_valve_2',
  'lost_liquid_seal',
  'liquid_carry_over',
  'economizer_off',
  'economizer_compressor_degraded',
  'main_compressor_degraded',
  'surge',
  'low_load_cycling',
  'sensor_drift',
  'cold_condenser_water',
  'pass_partition_leak',
  'hot_gas_bypass_open',
];

/** Signs of figures that no machine of the project gives yet: people look at them. */
const NOT_YET = ['main_compressor.surge_margin'];

const everywhere = { economizer: true };
const SIDES = ['above', 'below'] as const;

function reachable(): Set<FaultId> {
  const found = new Set<FaultId>();
  for (const watch of watchable())
    for (const side of SIDES) for (const fault of candidates({ id: 'any', watch, side }, everywhere)) found.add(fault);
  for (const id of ['controller-lost', 'sensor-implausible'])
    for (const fault of candidates({ id, watch: null, side: 'above' }, everywhere)) found.add(fault);
  return found;
}

describe('faults', () => {
  test.each(NAMED)('%s has checks and cautions, and an alarm leads to it', (fault) => {
    const { title, checks, cautions, tells } = FAULTS[fault];
    expect(title.length).toBeGreaterThan(5);
    expect(checks.length).toBeGreaterThanOrEqual(2);
    expect(cautions.length).toBeGreaterThanOrEqual(1);
    for (const caution of cautions) expect(Object.keys(CAUTIONS)).toContain(caution);
    if (fault !== 'sensor_drift') expect(tells.length).toBeGreaterThanOrEqual(2);
    expect([...reachable()]).toContain(fault);
  });

  test('no fault is written down that no alarm leads to', () => {
    expect((Object.keys(FAULTS) as FaultId[]).filter((fault) => !reachable().has(fault))).toEqual([]);
  });

  test('every sign names a metric or a point that there is', () => {
    const known = new Set([...watchable(), ...NOT_YET]);
    const signs = Object.values<FaultEntry>(FAULTS).flatMap(({ tells }) => tells.map(({ of }) => of));
    expect(signs.filter((name) => !known.has(name))).toEqual([]);
  });

  test('a machine without a flash tank has none of its faults', () => {
    for (const watch of watchable())
      for (const side of SIDES)
        for (const fault of candidates({ id: 'any', watch, side }, { economizer: false }))
          expect(FAULTS[fault].economizer).toBeUndefined();
  });

  test('a sensor is always among the causes of a figure, and first before the figures are heard', () => {
    for (const watch of watchable())
      expect(candidates({ id: 'x', watch, side: 'above' }, everywhere)[0]).toBe('sensor_drift');
  });
});

describe('alarms of the example sites', () => {
  test.each(['kestrel-quay', 'lantern-yard'])('%s: each has causes beside the sensor', async (name) => {
    const site = await loadSite(new URL(`../../../config/${name}.yaml`, import.meta.url).pathname, { env: {} });
    if (!site.ok) throw new Error(JSON.stringify(site.fault));
    const rules = site.value.chillers.flatMap(({ alarms }) => alarms);
    expect(rules.length).toBeGreaterThan(3);
    for (const { id, watch, side } of rules) {
      const found = candidates({ id, watch, side }, everywhere);
      expect([id, found.length >= 2]).toEqual([id, true]);
    }
  });
});

describe('cautions', () => {
  const ids = (refrigerant: string, asked: readonly (keyof typeof CAUTIONS)[] = []) =>
    cautionsOf(new Set(asked), refrigerant).map(({ id }) => id);

  test('every packet says what it is, and what holds for everybody who enters', () => {
    expect(ids('R134a')).toEqual(['general', 'machinery_room', 'lockout', 'rotating']);
  });

  // Groups of ANSI/ASHRAE 34, from memory: A2L R-1234yf and R-1234ze(E), B1 R-123, A1 the others carried here.
  test.each([
    ['R1234yf', ['flammable']],
    ['R1234zeE', ['flammable']],
    ['R123', ['toxic', 'low_pressure']],
    ['R1233zdE', ['low_pressure']],
    ['R11', ['low_pressure']],
    ['R134a', []],
    ['R22', []],
  ])('%s: %j', (refrigerant, expected) => {
    const traits = ['flammable', 'toxic', 'low_pressure'] as const;
    expect(traits.filter((each) => ids(refrigerant).includes(each))).toEqual(expected);
  });

  test('every refrigerant that is carried is known here; an unknown one gets every caution', () => {
    for (const name of REFRIGERANTS)
      expect([name, ids(name).includes('toxic') && ids(name).includes('flammable')]).toEqual([name, false]);
    expect(ids('R999')).toEqual(expect.arrayContaining(['flammable', 'toxic', 'low_pressure']));
  });

  test('work on refrigerant brings the law, the plate and the pressure test', () => {
    const texts = cautionsOf(new Set(['refrigerant'] as const), 'R134a')
      .map(({ text }) => text)
      .join(' ');
    for (const words of [
      'EPA section 608',
      '40 CFR 82.157',
      '40 CFR 84.106',
      '15 lb',
      'Nameplate',
      'oxygen or air',
      'Local codes',
    ])
      expect(texts).toContain(words);
  });
});
