/**
 * Goal: a site comes out in SI, complete, frozen; defaults are those of the dictionary and the domain; what
 * contradicts is refused.
 */
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { controllerOf } from '../../../agent/site/points.ts';
import { Secret } from '../../../agent/site/secret.ts';
import {
  type ChillerSite,
  readSite,
  type Site,
  standardPressure,
  withBacnetAddress,
  withModbusAddress,
  withPlaces,
} from '../../../agent/site/site.ts';

interface Given {
  [key: string]: unknown;
}

const RUNNING = { 'unit.running': { address: { table: 'coil', register: 0 } } };

function file(
  points: Readonly<Record<string, unknown>> = RUNNING,
  more: { site?: Given; chiller?: Given; top?: Given } = {},
): Given {
  return {
    version: 1,
    site: { id: 'plant-room', name: 'Plant room', time_zone: 'Europe/Oslo', barometer: '100 kPa', ...more.site },
    chillers: [
      {
        id: 'CH-1',
        machine: { refrigerant: 'R134a', arrangement: 'parallel', rated_capacity: '1500 ton' },
        source: { modbus: { host: '10.0.0.5' } },
        points,
        ...more.chiller,
      },
    ],
    ...more.top,
  };
}

function read(given: unknown): Site {
  const result = readSite(given);
  if (!result.ok) throw new Error(JSON.stringify(result.fault, null, 1));
  return result.value;
}

function point(name: string, entry: Given, more: Parameters<typeof file>[1] = {}) {
  const address = { table: 'holding', register: 1 };
  return read(file({ [name]: { address, ...entry } }, more)).chillers[0]?.points[0];
}

function refusal(name: string, entry: Given): string {
  const result = readSite(file({ [name]: { address: { table: 'holding', register: 1 }, ...entry } }));
  return result.ok ? 'read' : result.fault.map(({ path, message }) => `${path.at(-1)}: ${message}`).join('\n');
}

function bacnetFile(points: Readonly<Record<string, unknown>>, source: Given = {}): Given {
  return file(points, { chiller: { source: { bacnet: { device: 4711, broadcast: '10.0.0.255', ...source } } } });
}

describe('a BACnet controller', () => {
  test('its points stand on objects, present value unless said otherwise', () => {
    const site = read(
      bacnetFile({
        'chilled_water.leaving_temperature': { address: { object: 'analog-input:3' }, unit: 'degC' },
        'main_compressor.run_hours': {
          address: { object: 'binary-value:4', property: 'elapsed-active-time' },
          unit: 'h',
          scale: 1 / 3600,
        },
      }),
    );
    const controller = controllerOf(site.chillers[0] as ChillerSite);
    expect(controller.bus).toBe('bacnet');
    expect(controller.points.map((each) => each.address)).toEqual([
      { object: 'analog-input:3', property: 'present-value', cov: false },
      { object: 'binary-value:4', property: 'elapsed-active-time', cov: false },
    ]);
  });

  test('what reports its changes is polled once a minute, and not stale before three of those', () => {
    const [reported, polled] =
      read(
        bacnetFile({
          'evaporator.pressure': { address: { object: 'analog-input:1', cov: true }, unit: 'kPa' },
          'condenser.pressure': { address: { object: 'analog-input:2' }, unit: 'kPa' },
        }),
      ).chillers[0]?.points ?? [];
    expect([reported?.stale_s, polled?.stale_s]).toEqual([180, 120]);
  });
});

test('defaults, SI and freezing', () => {
  const site = read(file());
  expect(site).toMatchObject({
    interval_s: 60,
    unit_system: 'ip',
    barometer: 100_000,
    barometer_uncertainty: 1000,
    mqtt: null,
    web: { host: '127.0.0.1', port: 8047 },
  });
  const [chiller] = site.chillers;
  expect(chiller).toMatchObject({
    id: 'CH-1',
    name: 'CH-1',
    points: [{ name: 'unit.running' }],
    source: { modbus: { port: 502 } },
  });
  // 1500 tons of 12,000 Btu/h.
  expect(chiller?.machine.rated_capacity).toBeCloseTo(5_275_279, 0);
  expect(chiller?.pressure_window[0]).toBeGreaterThan(200e3);
  expect(chiller?.pressure_window[1]).toBeLessThan(1400e3);
  const frozen = (value: unknown): boolean =>
    typeof value !== 'object' || value === null || (Object.isFrozen(value) && Object.values(value).every(frozen));
  expect(frozen(site)).toBe(true);
});

test('altitude gives the barometer: standard atmosphere, 89,875 Pa at 1000 m (ISO 2533, from memory)', () => {
  expect(read(file(RUNNING, { site: { barometer: undefined, altitude: '1000 m' } })).barometer).toBeCloseTo(89_875, -1);
  expect(standardPressure(0)).toBe(101_325);
});

describe('uncertainty of a point', () => {
  const vented = { unit: 'psig', reference: 'vented_gauge' };
  test('water: 0.1 K; flow: 3 %; level: 3 points', () => {
    expect(point('chilled_water.leaving_temperature', { unit: 'degF' })?.uncertainty).toEqual({
      absolute: 0.1,
      relative: 0,
    });
    expect(point('chilled_water.flow', { unit: 'gpm' })?.uncertainty).toEqual({ absolute: 0, relative: 0.03 });
    expect(point('condenser.level', { unit: '%' })?.uncertainty).toEqual({ absolute: 0.03, relative: 0 });
  });

  test('pressure: 0.5 % of the span, or of the standard span where none is given', () => {
    const kPa = { unit: 'kPa' };
    expect(point('condenser.pressure', kPa)?.uncertainty.absolute).toBeCloseTo(8000, 6);
    expect(point('condenser.pressure', { ...kPa, span: '2000 kPa' })?.uncertainty.absolute).toBeCloseTo(10_000, 6);
    expect(point('condenser.pressure', { ...kPa, span: '2000 kPa' })?.span).toBe(2e6);
    expect(point('condenser.pressure', { unit: 'kPa', uncertainty: '2 kPa' })?.uncertainty.absolute).toBe(2000);
  });

  test('a vented transmitter inherits the doubt about the barometer, a sealed one does not', () => {
    const given = { ...vented, uncertainty: '2.4 kPa' };
    expect(point('evaporator.pressure', given)?.uncertainty.absolute).toBeCloseTo(2600, 6);
    expect(point('evaporator.pressure', { ...given, reference: 'sealed_gauge' })?.uncertainty.absolute).toBeCloseTo(
      2400,
      6,
    );
    // And says how much of it all vented gauges of the machine share.
    expect(point('evaporator.pressure', given)?.uncertainty.barometer).toBe(1000);
    expect(
      point('evaporator.pressure', { ...given, reference: 'sealed_gauge' })?.uncertainty.barometer,
    ).toBeUndefined();
    const calm = { site: { barometer_uncertainty: '0 kPa' } };
    expect(point('evaporator.pressure', given, calm)?.uncertainty.absolute).toBeCloseTo(2400, 6);
  });

  test.each([
    ['chilled_water.flow', 'gpm', '1 %', { absolute: 0, relative: 0.01 }],
    ['chilled_water.flow', 'l/s', '2 l/s', { absolute: 0.002, relative: 0 }],
    ['condenser.level', '%', '1 %', { absolute: 0.01, relative: 0 }],
    ['condenser.level', '%', { relative: '2 %' }, { absolute: 0, relative: 0.02 }],
    ['condenser.liquid_temperature', 'degC', '0.9 delta_degF', { absolute: 0.5, relative: 0 }],
    ['condenser.pressure', 'kPa', '1 % of value', { absolute: 0, relative: 0.01 }],
    ['unit.power', 'kW', { absolute: '3 kW', relative: '1 %' }, { absolute: 3000, relative: 0.01 }],
  ])('%s in %s, given %j', (name, unit, uncertainty, expected) => {
    const found = point(name, { unit, uncertainty })?.uncertainty;
    expect(found?.absolute).toBeCloseTo(expected.absolute, 9);
    expect(found?.relative).toBeCloseTo(expected.relative, 9);
  });

  test.each([
    ['-0.1 K', "uncertainty: '-0.1 K' is negative"],
    ['1 %', 'uncertainty: a share of a temperature means nothing'],
    ['0.1 degC', "uncertainty: '0.1 degC' is not a difference here: use a number with K, delta_degF"],
    ['much', "uncertainty: 'much' is not a difference here"],
  ])('refused: %s', (uncertainty, words) => {
    expect(refusal('condenser.liquid_temperature', { unit: 'degC', uncertainty })).toContain(words);
  });
});

describe('believable range', () => {
  test('the dictionary range in the unit of the point, gauge and vacuum included', () => {
    const psig = point('evaporator.pressure', { unit: 'psig', reference: 'sealed_gauge' })?.valid;
    // 1 to 4000 kPa absolute, less 14.696 psi.
    expect(psig?.[0]).toBeCloseTo(-14.551, 3);
    expect(psig?.[1]).toBeCloseTo(565.455, 2);
    const vacuum = point('evaporator.pressure', { unit: 'inHg_vac', reference: 'vented_gauge' })?.valid;
    expect(vacuum?.[0]).toBeLessThan(vacuum?.[1] as number);
    expect(point('chilled_water.leaving_temperature', { unit: 'degF' })?.valid).toEqual([
      expect.closeTo(14, 9),
      expect.closeTo(140, 9),
    ]);
  });
});

describe('time limits', () => {
  test('a value is the present for at least three polls', () => {
    const slow = { chiller: { source: { modbus: { host: 'a', poll_s: 300 } } } };
    expect(point('unit.power', { unit: 'kW' })?.stale_s).toBe(120);
    expect(point('unit.power', { unit: 'kW' }, slow)?.stale_s).toBe(900);
    expect(point('condenser.level', { unit: '%', fast: true })?.stale_s).toBe(60);
  });
  test('states and levels may stand, temperatures may not', () => {
    expect(point('unit.running', {})?.frozen_s).toBeNull();
    expect(point('condenser.level', { unit: '%' })?.frozen_s).toBeNull();
    expect(point('unit.power', { unit: 'kW' })?.frozen_s).toBe(3600);
    expect(point('unit.power', { unit: 'kW', frozen_s: null })?.frozen_s).toBeNull();
  });
});

test('reference belongs to pressures', () => {
  expect(refusal('unit.power', { unit: 'kW', reference: 'absolute' })).toContain(
    'reference: belongs to pressures alone',
  );
});

test('bounds of the house hold', () => {
  const chillers = Array.from({ length: LIMITS.chillers_max + 1 }, (_, index) => ({
    ...(file()['chillers'] as Given[])[0],
    id: `C${index}`,
  }));
  const result = readSite(file(RUNNING, { top: { chillers } }));
  expect(result.ok ? [] : result.fault.map(({ message }) => message)).toEqual([
    `must have at most ${LIMITS.chillers_max} entries`,
  ]);
});

test.each([
  ['CH-1', 'ch-1'],
  ['ch-1', 'CH-1'],
])('%s and %s are one id: topics and addresses must not differ by capitals alone', (first, second) => {
  const [chiller] = file()['chillers'] as Given[];
  const result = readSite(
    file(
      {},
      {
        top: {
          chillers: [
            { ...chiller, id: first },
            { ...chiller, id: second },
          ],
        },
      },
    ),
  );
  expect(result.ok ? [] : result.fault.map(({ code }) => code)).toEqual(['config_id_twice']);
});

test.each([undefined, null, 3, 'text', [], () => 1])('no value makes it throw: %s', (value) => {
  expect(readSite(value).ok).toBe(false);
  expect(readSite({ version: 1, site: value, chillers: value, web: value, mqtt: value }).ok).toBe(false);
  expect(readSite(file({ 'unit.power': value })).ok).toBe(false);
  expect(readSite(file(RUNNING, { chiller: { machine: value, source: value, points: value } })).ok).toBe(false);
});

describe('a secret', () => {
  const site = read(file(RUNNING, { top: { mqtt: { url: 'mqtt://b:1883', password: 'hunter2' } } }));
  test('is there and is not seen', () => {
    expect(site.mqtt?.password).toBeInstanceOf(Secret);
    expect(site.mqtt?.password?.reveal()).toBe('hunter2');
    expect(JSON.stringify(site)).not.toContain('hunter2');
    expect(`${site.mqtt?.password}`).toBe('[secret]');
  });
});

describe('elsewhere', () => {
  const site = read(file());
  test('a controller at another address', () => {
    const moved = withModbusAddress(site, 'CH-1', { host: '127.0.0.1', port: 40_123 });
    expect(moved.chillers[0]?.source).toMatchObject({ modbus: { host: '127.0.0.1', port: 40_123, poll_s: 5 } });
    expect(site.chillers[0]?.source).toMatchObject({ modbus: { host: '10.0.0.5' } });
    expect(Object.isFrozen(moved.chillers[0]?.source)).toBe(true);
    expect(withModbusAddress(site, 'CH-9', { host: 'x', port: 1 }).chillers).toEqual(site.chillers);
    expect(withBacnetAddress(site, 'CH-1', { host: 'x', port: 1 }).chillers).toEqual(site.chillers);
  });
  test('a BACnet controller at another address is asked there, from any free port, and not searched for', () => {
    const searched = read(bacnetFile({ 'unit.running': { address: { object: 'binary-value:1' } } }));
    const moved = withBacnetAddress(searched, 'CH-1', { host: '127.0.0.1', port: 40_123 });
    expect(moved.chillers[0]?.source).toEqual({
      bacnet: expect.objectContaining({ device: 4711, address: '127.0.0.1:40123', port: 0, poll_s: 5 }),
    });
    expect(moved.chillers[0]?.source).not.toHaveProperty('bacnet.broadcast');
    expect(Object.isFrozen(moved.chillers[0]?.source)).toBe(true);
  });
  test('history in another folder', () => {
    expect(withPlaces(site, { history: { folder: '/tmp/x' } })).toMatchObject({
      id: 'plant-room',
      history: { folder: '/tmp/x' },
    });
  });
});
