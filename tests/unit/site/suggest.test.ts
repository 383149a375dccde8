/**
 * Goal: a draft names the points that names and units of a controller's objects tell, in several habits of naming, and
 * leaves to a person what they do not. Names: as the trade writes them (common practice, no source).
 */
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { draftSite } from '../../../agent/site/draft.ts';
import { readSite } from '../../../agent/site/site.ts';
import { type NamedObject, suggestPoints } from '../../../agent/site/suggest.ts';

const F = 'degrees-fahrenheit';
const C = 'degrees-celsius';
const PSI = 'pounds-force-per-square-inch';

function object(
  name: string,
  units: string | null,
  kind = 'analog-input',
  description: string | null = null,
): NamedObject {
  return { address: `${kind}:1`, name, description, units };
}

test.each<[string, string | null, string, string?]>([
  ['CHWS_TEMP', F, 'chilled_water.leaving_temperature'],
  ['CHWR_TEMP', F, 'chilled_water.entering_temperature'],
  ['CH1.LvgChwTemp', C, 'chilled_water.leaving_temperature'],
  ['Entering Chilled Water Temperature', F, 'chilled_water.entering_temperature'],
  ['Cond Water Leaving Temp', F, 'condenser_water.leaving_temperature'],
  ['Evap Leaving Water Temp', F, 'chilled_water.leaving_temperature'],
  ['CWS-T', F, 'condenser_water.entering_temperature'],
  ['EvapPress', PSI, 'evaporator.pressure'],
  ['COND_PRESS', 'kilopascals', 'condenser.pressure'],
  ['Flash Tank Pressure', 'kilopascals', 'flash_tank.pressure'],
  ['ECON-P', PSI, 'flash_tank.pressure'],
  ['Evaporator Vacuum', 'inches-of-mercury', 'evaporator.pressure'],
  ['Disch Temp', F, 'main_compressor.discharge_temperature'],
  ['Liquid Line Temp', F, 'condenser.liquid_temperature'],
  ['IGV Position', 'percent', 'main_compressor.vane_position'],
  ['Chiller kW', 'kilowatts', 'unit.power'],
  ['Motor Amps', 'amperes', 'main_compressor.current'],
  ['CHW Flow', 'us-gallons-per-minute', 'chilled_water.flow'],
  ['CDW DP', PSI, 'condenser_water.pressure_drop'],
  ['Run Hours', 'hours', 'main_compressor.run_hours'],
  ['Run Status', null, 'unit.running', 'binary-input'],
  ['Operating Mode', null, 'unit.operating_mode', 'multi-state-value'],
  ['OAT', F, 'outdoor.temperature'],
  ['OA Wetbulb', F, 'outdoor.wet_bulb_temperature'],
])('%s in %s', (name, units, point, kind) => {
  expect(suggestPoints([object(name, units, kind)]).points.map((each) => each.point)).toEqual([point]);
});

test.each<[string, string | null, string?]>([
  ['CHW Setpoint Leaving', F],
  ['Chilled Water Leaving', 'kilowatts'],
  ['Spare 17', 'percent'],
  ['Alarm Horn', null, 'binary-output'],
  ['Leaving Chilled Water Temp', null, 'binary-input'],
])('%s in %s is left to a person', (name, units, kind) => {
  const { points, others } = suggestPoints([object(name, units, kind)]);
  expect(points).toEqual([]);
  expect(others).toHaveLength(1);
});

describe('of two objects for one point the first is taken, the other left', () => {
  const { points, others } = suggestPoints([object('CHW LWT', F), object('CHWS Temp', F, 'analog-value')]);
  test('once', () => expect([points.length, others.length]).toEqual([1, 1]));
});

describe('draft', () => {
  const hostile = object('Evap Press\n    evil: true # "', PSI, 'analog-input', 'a: b\u2028- c');
  const found = [
    object('CHWS Temp', F),
    { ...hostile, address: 'analog-input:2' },
    object('Level 9', 'units 700', 'analog-value'),
  ];
  const text = draftSite([
    {
      source: 'bacnet: { device: 4711, address: 10.0.0.5:47808 }',
      about: 'device 4711',
      suggestions: suggestPoints(found),
    },
  ]);

  test('is YAML and a good site as far as it goes, whatever a device says of itself', () => {
    const value = parse(text) as { chillers: { points: Record<string, unknown> }[] };
    const { points } = value.chillers[0] as { points: Record<string, { address: { object: string } }> };
    expect(Object.keys(points).sort()).toEqual(['chilled_water.leaving_temperature', 'evaporator.pressure']);
    const read = readSite(value);
    expect(read.ok ? [] : read.fault).toEqual([]);
  });

  test('marks what a person must decide, and lists what it did not know', () => {
    expect(text).toContain('reference: vented_gauge # ?');
    expect(text).toContain('refrigerant: R134a # ?');
    expect(text).toContain('#   analog-value:1: Level 9, units 700');
  });

  test('without points it says that one is missing', () => {
    const empty = draftSite([
      { source: 'modbus: { host: 10.0.0.5, port: 502 }', about: null, suggestions: suggestPoints([]) },
    ]);
    const read = readSite(parse(empty));
    expect(read.ok ? 'ok' : read.fault.map(({ message }) => message)).toEqual(['must have at least one point']);
  });
});
