/** Goal: a declared period that means nothing is refused at the door, each mistake at its key, with what to do. */
import { expect, test } from 'vitest';
import { readSite } from '../../../agent/site/site.ts';

const POINTS: Readonly<Record<string, string>> = {
  'evaporator.pressure': 'kPa',
  'condenser.pressure': 'kPa',
  'unit.power': 'kW',
  'chilled_water.flow': 'gpm',
  'chilled_water.entering_temperature': 'degC',
  'chilled_water.leaving_temperature': 'degC',
  'condenser_water.entering_temperature': 'degC',
};

function read(baseline: unknown, without: readonly string[] = []) {
  const names = Object.keys(POINTS).filter((name) => !without.includes(name));
  const points = Object.fromEntries(
    names.map((name, register) => [name, { address: { table: 'input', register }, unit: POINTS[name] }]),
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
        baseline,
      },
    ],
  });
}

const GOOD = { from: '2026-05-01', to: '2026-06-30' };

test('a period and a model are taken; left out there is none', () => {
  const found = read({ ...GOOD, model: 'gordon_ng' });
  expect(found.ok ? found.value.chillers[0]?.baseline : found.fault).toEqual({ ...GOOD, model: 'gordon_ng' });
  const none = read(undefined);
  expect(none.ok ? none.value.chillers[0]?.baseline : none.fault).toBeNull();
});

test.each([
  ['a date that no calendar has', { ...GOOD, from: '2026-02-30' }, [], 'baseline.from', /must be a date/],
  [
    'the last day before the first',
    { from: '2026-05-01', to: '2026-04-30' },
    [],
    'baseline.to',
    /is before 2026-05-01/,
  ],
  ['more days than a baseline takes', { from: '2020-01-01', to: '2026-01-01' }, [], 'baseline.to', /at most 800/],
  ['an unknown model', { ...GOOD, model: 'linear' }, [], 'baseline.model', /./],
  ['an unknown key', { ...GOOD, until: '2026-05-02' }, [], 'baseline.until', /unknown key/],
  [
    'no condenser water temperature',
    GOOD,
    ['condenser_water.entering_temperature'],
    'baseline',
    /needs the point condenser_water\.entering_temperature/,
  ],
  ['no power', GOOD, ['unit.power'], 'baseline', /could never be fitted: unit\.power cannot be made/],
] as const)('%s', (_, baseline, without, key, message) => {
  const found = read(baseline, without);
  if (found.ok) throw new Error('refused');
  const issue = found.fault.find(({ path }) => path.slice(2).join('.') === key);
  expect(issue?.message).toMatch(message);
});
