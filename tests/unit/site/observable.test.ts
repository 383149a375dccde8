/**
 * Goal: an alarm that could never rise is refused, and what the points cannot give is said with its reason and
 * the points that would, where there are such.
 */
import { expect, test } from 'vitest';
import { openSite } from '../../../agent/config/load.ts';
import { unarmedAlarms, unobservable, unobservableNotices, whyNever } from '../../../agent/site/observable.ts';
import { readSite, type Site } from '../../../agent/site/site.ts';

const PAIR = ['evaporator.pressure', 'condenser.pressure'];

interface More {
  readonly machine?: object;
  readonly baseline?: object;
  readonly alarm?: object;
}

function given(names: readonly string[], watch?: string, { machine = {}, baseline, alarm }: More = {}) {
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
        machine: { refrigerant: 'R134a', arrangement: 'parallel', rated_capacity: '1500 ton', ...machine },
        source: { modbus: { host: 'a' } },
        points,
        ...(baseline === undefined ? {} : { baseline }),
        ...(watch === undefined ? {} : { alarms: [{ id: 'x', title: 'X', watch, above: '3 K', ...alarm }] }),
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
  const never = unobservable(site(PAIR).chillers[0]!).map(({ metric }) => metric);
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

test('an alarm on a tank that the machine does not have says so, and no list asks for its points', () => {
  for (const [watch, above] of [
    ['flash_tank_2.level', '80 %'],
    ['tank_valve_2.hunting_index', '0.5'],
  ] as const) {
    const refused = given(PAIR, watch, { alarm: { above } });
    expect(refused.ok ? [] : refused.fault).toMatchObject([
      { message: 'this alarm could never rise: this machine has no second flash tank' },
    ]);
  }
  const [chiller] = site(PAIR).chillers;
  const listed = unarmedAlarms(chiller as Site['chillers'][number]).map(({ alarm }) => alarm);
  expect(listed).toContain('tank-level-low');
  expect(listed.filter((id) => id.startsWith('second-tank'))).toEqual([]);
});

test('an alarm on what no points give says why', () => {
  const refused = given(PAIR, 'main_compressor.first_stage_lift');
  expect(refused.ok ? [] : refused.fault).toMatchObject([
    {
      message:
        'this alarm could never rise: main_compressor.first_stage_lift is never given: ' +
        'the main compressor is taken as one stage',
    },
  ]);
});

function reasons(chiller: Site['chillers'][number]): Record<string, string> {
  return Object.fromEntries(unobservable(chiller).map((one) => [one.metric, whyNever(one)]));
}

test('a metric that one point would give names that point alone', () => {
  const why = reasons(site(PAIR).chillers[0]!);
  expect(why['condenser.subcooling']).toBe('it needs condenser.liquid_temperature');
  expect(why['condenser.approach']).toBe('it needs condenser_water.leaving_temperature');
});

test('what needs several points names them all, and none that is mapped', () => {
  const why = reasons(site([...PAIR, 'chilled_water.entering_temperature']).chillers[0]!);
  expect(why['unit.capacity_from_chilled_water']).toBe(
    'it needs chilled_water.leaving_temperature and chilled_water.flow',
  );
});

const POWERED = [
  ...PAIR,
  'condenser.liquid_temperature',
  'chilled_water.entering_temperature',
  'chilled_water.leaving_temperature',
  'chilled_water.flow',
  'condenser_water.entering_temperature',
  'condenser_water.leaving_temperature',
  'flash_tank.pressure',
  'unit.power',
];
const CLEAN = { from: '2026-05-01', to: '2026-06-30' };
// A machine for less lift than that of the condition at which metrics are tried: head over a1^2 ends at 0.55.
const SURGE_LINE = [
  [0.4, 0.012],
  [0.55, 0.018],
];
const BESIDE = ['power-above-baseline', 'condenser-excess-pressure', 'surge-margin-low'];

function unarmed(names: readonly string[], more: More = {}): Record<string, string> {
  const read = given(names, undefined, more);
  if (!read.ok) throw new Error(JSON.stringify(read.fault));
  const [chiller] = read.value.chillers;
  const found = unarmedAlarms(chiller!).filter(({ alarm }) => BESIDE.includes(alarm));
  expect(chiller!.alarms.filter(({ id }) => BESIDE.includes(id)).length + found.length).toBe(BESIDE.length);
  return Object.fromEntries(found.map(({ alarm, why }) => [alarm, why]));
}

test('the alarms on baseline and surge line are armed by a declared period and a configured line', () => {
  expect(unarmed(POWERED)).toEqual({
    'power-above-baseline': 'unit.kw_per_ton_deviation needs a clean period; declare it as `baseline`',
    'condenser-excess-pressure': 'condenser.excess_pressure needs a clean period; declare it as `baseline`',
    'surge-margin-low': 'main_compressor.surge_margin is never given: surge_line is not configured',
  });
  expect(unarmed(POWERED, { baseline: CLEAN, machine: { surge_line: SURGE_LINE } })).toEqual({});
});

test('with a baseline, a sensor that only one of them needs is named', () => {
  const without = POWERED.filter((name) => name !== 'condenser.liquid_temperature');
  const why = unarmed(without, { baseline: CLEAN, machine: { surge_line: SURGE_LINE } });
  expect(why['condenser-excess-pressure']).toBe('the point condenser.liquid_temperature is not mapped; map it');
  expect(why['power-above-baseline']).toBeUndefined();
});

test('an alarm of the site on a figure against the baseline is taken with a baseline, refused without', () => {
  const alarm = { above: '10 %' };
  const refused = given(POWERED, 'unit.kw_per_ton_deviation', { alarm });
  expect(refused.ok ? [] : refused.fault).toMatchObject([
    {
      path: ['chillers', 0, 'alarms', 0, 'watch'],
      message: 'this alarm could never rise: unit.kw_per_ton_deviation needs a clean period; declare it as `baseline`',
    },
  ]);
  expect(given(POWERED, 'unit.kw_per_ton_deviation', { alarm, baseline: CLEAN }).ok).toBe(true);
  // A clean bundle is taken over duty alone where the flow is not measured.
  expect(given(POWERED, 'condenser.ua_ratio', { alarm, baseline: CLEAN }).ok).toBe(true);
});

test('what waits for the site is told from what the machine cannot give', () => {
  const [chiller] = site(PAIR).chillers;
  const by = new Map(unarmedAlarms(chiller!).map((one) => [one.alarm, one]));
  expect(by.get('lift-high')).toEqual({
    alarm: 'lift-high',
    why: "give its limit 'above' under `alarms`: design lift of the machine at its load",
    by_choice: true,
  });
  expect(by.get('condenser-approach')).toMatchObject({ by_choice: false });
  expect(by.has('lift-low')).toBe(false);
});

test('one notice a chiller, with the count and the alarms that are not armed', () => {
  const [chiller] = site(PAIR).chillers;
  const silent = unarmedAlarms(chiller!).filter((one) => !one.by_choice);
  expect(silent.map(({ alarm }) => alarm)).toContain('power-above-baseline');
  expect(unobservableNotices(site(PAIR))).toEqual([
    {
      code: 'config_metric_unobservable',
      path: ['chillers', 0, 'points'],
      message:
        `CH-1: ${unobservable(chiller!).length} metrics are published as missing, out of reach of these points; ` +
        `not armed: ${silent.map(({ alarm }) => alarm).join(', ')}; details: tonhour check`,
    },
  ]);
});

async function example(name: string) {
  const file = new URL(`../../../config/${name}.yaml`, import.meta.url).pathname;
  const opened = await openSite(file, { env: {}, notices: unobservableNotices });
  if (!opened.ok) throw new Error(JSON.stringify(opened.fault));
  return opened.value;
}

/** Of other arrangements, or asked for by none of the examples. */
const ELSEWHERE = [
  'this arrangement has no subcooler',
  'this arrangement has no second flash tank',
  'resolve_approaches is not set in the site file',
  'surge_line is not configured',
];

test('the example site reaches every metric but those that its machines do not have', async () => {
  const { site: quay, notices } = await example('kestrel-quay');
  expect(notices.length).toBe(2);
  const [one, two] = quay.chillers.map(reasons);
  const others = (all: Readonly<Record<string, string>> = {}) =>
    Object.fromEntries(Object.entries(all).filter(([, why]) => !ELSEWHERE.includes(why)));
  expect(others(one)).toEqual({
    'economizer.best_tank_saturation_temperature': 'the economizer compressor is not configured as adjustable',
    'main_compressor.first_stage_lift': 'the main compressor is taken as one stage',
    'main_compressor.second_stage_lift': 'the main compressor is taken as one stage',
    'main_compressor.third_stage_lift': 'the main compressor is taken as one stage',
  });
  // CH-2 has two stages on one shaft
  expect(two?.['economizer_compressor.power']).toBe('this arrangement has no economizer compressor');
  expect([...new Set(Object.values(others(two)))].sort()).toEqual([
    'the main compressor has no third stage',
    'this arrangement has no economizer compressor',
  ]);
});

test('where no point tells that the economizer is off, what it misses needs that point', async () => {
  const { site: yard } = await example('lantern-yard');
  const why = reasons(yard.chillers[0]!);
  expect(why['economizer.missed_saving']).toBe(
    'no point says whether the vapour line of the economizer is open: taken as open; it needs economizer.running',
  );
  expect(why['unit.heat_balance_error']).toBe('it needs chilled_water.flow and condenser_water.flow');
});
