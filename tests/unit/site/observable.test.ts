/**
 * Goal: an alarm that could never rise is refused, and what the points cannot give is said with the points that
 * would.
 */
import { expect, test } from 'vitest';
import { openSite } from '../../../agent/config/load.ts';
import { pointsMissing, unobservable, unobservableNotices } from '../../../agent/site/observable.ts';
import { readSite, type Site } from '../../../agent/site/site.ts';

const PAIR = ['evaporator.pressure', 'condenser.pressure'];

function given(names: readonly string[], watch?: string) {
  const points = Object.fromEntries(
    names.map((name, index) => [
      name,
      {
        address: { table: 'input', register: index },
        unit: name.endsWith('pressure')
          ? 'kPa'
          : name.endsWith('power')
            ? 'kW'
            : name.endsWith('flow')
              ? 'gpm'
              : 'degC',
      },
    ]),
  );
  return readSite({
    version: 1,
    site: { id: 's', name: 'S', time_zone: 'UTC', barometer: '100 kPa' },
    chillers: [
      {
        id: 'CH-1',
        machine: { refrigerant: 'R134a', arrangement: 'parallel', rated_capacity: '1500 ton' },
        source: { modbus: { host: 'a' } },
        points,
        ...(watch === undefined ? {} : { alarms: [{ id: 'x', title: 'X', watch, above: '3 K' }] }),
      },
    ],
  });
}

function site(names: readonly string[]): Site {
  const read = given(names);
  if (!read.ok) throw new Error(JSON.stringify(read.fault));
  return read.value;
}

test('two pressures give lift and pressure ratio, no flows and no subcooling', () => {
  const never = unobservable(site(PAIR).chillers[0]!);
  expect(never).toContain('condenser.subcooling');
  expect(never).toContain('unit.kw_per_ton');
  expect(never).not.toContain('main_compressor.lift');
  expect(never).not.toContain('main_compressor.pressure_ratio');
});

test('an alarm that could never rise names the point to map', () => {
  const refused = given(PAIR, 'condenser.approach');
  expect(refused.ok ? [] : refused.fault).toMatchObject([
    {
      code: 'config_metric_unobservable',
      path: ['chillers', 0, 'alarms', 0, 'watch'],
      message:
        'this alarm could never rise: condenser.approach cannot be made from the mapped points; ' +
        'map condenser_water.leaving_temperature',
    },
  ]);
  expect(given([...PAIR, 'condenser_water.leaving_temperature'], 'condenser.approach').ok).toBe(true);
});

test('missing points are found through the metrics between, mapped ones are not named', () => {
  const missing = pointsMissing('unit.kw_per_ton', new Set(['unit.power', 'chilled_water.entering_temperature']));
  expect(missing).toContain('chilled_water.flow');
  expect(missing).not.toContain('unit.power');
  expect(missing).not.toContain('chilled_water.entering_temperature');
});

test('a notice for each metric out of reach', () => {
  const notices = unobservableNotices(site(PAIR));
  expect(notices.map(({ message }) => message)).toContain(
    'condenser.subcooling is published as missing: it needs condenser.liquid_temperature',
  );
  expect(notices.length).toBe(unobservable(site(PAIR).chillers[0]!).length);
});

test('the example site reaches every metric but those that no points can give', async () => {
  const file = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;
  const opened = await openSite(file, { env: {}, notices: unobservableNotices });
  const missing = opened.ok ? opened.value.notices.map(({ key, message }) => `${key}: ${message}`) : null;
  const within = missing?.filter((message) => !message.endsWith('neither arrangement nor points give it'));
  expect(within?.filter((message) => message.startsWith('chillers[0]'))).toEqual([]);
  // CH-2 has two stages on one shaft: no economizer compressor, and one efficiency over both stages.
  const two = within?.filter((message) => message.startsWith('chillers[1]')) ?? [];
  expect(two.filter((message) => !/economizer_compressor|economizer_power/.test(message))).toEqual([]);
});
