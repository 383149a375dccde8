// Goal: the minute as a pure fold: numbering, what a state of the machine does to figures, what leaves in which
// order. Method: snapshots made by hand for the example site; the numbers of the cycle are checked elsewhere.
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { prepare } from '../../../agent/cycle/solve.ts';
import { continued, MINUTE_START, type MinuteOutcome, type MinuteState, minute } from '../../../agent/minute.ts';
import type { PointValue, Snapshot } from '../../../agent/points/types.ts';
import type { ChillerSite } from '../../../agent/site/site.ts';

const FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;
const read = await loadSite(FILE, { env: {} });
if (!read.ok) throw new Error(JSON.stringify(read.fault));
const CHILLER = read.value.chillers[0] as ChillerSite;
const solver = must(prepare(CHILLER.machine));
const ROOT = 'tonhour/kestrel-quay';
const NO_COLUMNS = () => ({ times: new Float64Array(0), values: new Float64Array(0) });
const T0 = 1_795_000_020_000;

function good(value: number, u = 0): PointValue {
  return { value, u, quality: 'good', reason: null, age_s: 1, spread: 0, n: 12 };
}

function bad(reason: string): PointValue {
  return { value: null, u: null, quality: 'bad', reason, age_s: 1, spread: null, n: 0 };
}

/** R-134a near 5 and 37 degC, SI. */
function points(change: Record<string, PointValue> = {}): Record<string, PointValue> {
  return {
    'evaporator.pressure': good(349_700, 3000),
    'flash_tank.pressure': good(571_700, 4000),
    'condenser.pressure': good(937_000, 6000),
    'condenser.liquid_temperature': good(306.15, 0.3),
    'main_compressor.discharge_temperature': good(319.15, 0.7),
    'chilled_water.entering_temperature': good(285.15, 0.1),
    'chilled_water.leaving_temperature': good(279.85, 0.1),
    'condenser_water.leaving_temperature': good(308.15, 0.1),
    'condenser_water.entering_temperature': good(302.65, 0.1),
    'unit.power': good(800e3, 8e3),
    'unit.running': good(1),
    'economizer_compressor.running': good(1),
    ...change,
  };
}

function fold(minutes: readonly Record<string, PointValue>[], before: MinuteState = MINUTE_START): MinuteOutcome[] {
  let state = before;
  return minutes.map((each, i) => {
    const snapshot: Snapshot = { time: T0 + 60_000 * i, points: each };
    const link = { state: 'connected' as const, reason: null };
    const outcome = minute(
      state,
      { snapshot, solution: solver.solve(snapshot), link, columns: NO_COLUMNS, interval_s: 60 },
      CHILLER,
      ROOT,
    );
    // As the store keeps it between minutes and over restarts.
    state = JSON.parse(JSON.stringify(outcome.state));
    return outcome;
  });
}

const hour = (change?: Record<string, PointValue>): Record<string, PointValue>[] =>
  Array.from({ length: 30 }, () => points(change));

describe('the minute', () => {
  test('numbers its records from 1 without a gap, also over a restart', () => {
    const first = fold(hour().slice(0, 3));
    expect(first.map(({ record }) => record.sequence)).toEqual([1, 2, 3]);
    const state = JSON.parse(JSON.stringify(first.at(-1)?.state)) as MinuteState;
    expect(fold([points()], state)[0]?.record.sequence).toBe(4);
  });

  test('the same input gives the same outcome: state, record and messages', () => {
    expect(fold(hour())).toEqual(fold(hour()));
  });

  test('a steady machine has good figures with uncertainty, and the circuit', () => {
    const { record } = fold(hour()).at(-1) as MinuteOutcome;
    expect(record.state).toBe('steady');
    const lift = record.figures['main_compressor.lift'];
    expect(lift).toMatchObject({ quality: 'good', reason: null });
    expect(lift?.value).toBeCloseTo(32, 0);
    expect(lift?.uncertainty).toBeGreaterThan(0.3);
    expect(Object.keys(record.states)).toEqual(expect.arrayContaining(['1', '2', '3', '4', '5', '6', '7']));
  });

  test('points leave in catalogue units with expanded uncertainty', () => {
    const { record } = fold([points()])[0] as MinuteOutcome;
    expect(record.points['evaporator.pressure']).toMatchObject({ value: 349.7, uncertainty: 6, unit: 'kPa' });
    expect(record.points['condenser.liquid_temperature']?.value).toBeCloseTo(33, 9);
    expect(record.points['condenser.liquid_temperature']?.uncertainty).toBeCloseTo(0.6, 9);
  });

  test('a bad point costs its own figures, named in their reason; the minute is complete', () => {
    const { record } = fold(hour({ 'condenser.liquid_temperature': bad('the controller marks no measurement') })).at(
      -1,
    ) as MinuteOutcome;
    expect(record.figures['condenser.subcooling']).toMatchObject({ value: null, quality: 'bad' });
    expect(record.figures['condenser.subcooling']?.reason).toContain('condenser.liquid_temperature');
    expect(record.figures['main_compressor.lift']?.quality).toBe('good');
  });

  test('a stopped machine has no cycle: figures missing with that reason, no circuit, saturation temperatures stay', () => {
    const stopped = { 'unit.running': good(0), 'unit.power': good(0) };
    const { record } = fold([...hour(), ...hour(stopped)]).at(-1) as MinuteOutcome;
    expect(record.state).toBe('off');
    expect(record.figures['unit.kw_per_ton']).toMatchObject({
      value: null,
      quality: 'bad',
      reason: 'the machine is off',
    });
    expect(record.figures['condenser.saturation_temperature']?.value).not.toBeNull();
    expect(record.states).toEqual({});
  });

  test('a machine that starts has uncertain figures that say so', () => {
    const off = { 'unit.running': good(0), 'unit.power': good(0) };
    const { record } = fold([...hour(off), points(), points()]).at(-1) as MinuteOutcome;
    expect(record.state).toBe('starting');
    expect(record.figures['main_compressor.lift']).toMatchObject({
      quality: 'uncertain',
      reason: 'not steady: starting',
    });
  });

  test('where no point says whether it runs, the figures say that instead of naming a state', () => {
    const lost = bad('the controller marks no measurement');
    const mute = { 'unit.running': lost, 'unit.power': lost, 'main_compressor.running': lost };
    const { record } = fold([points(mute)])[0] as MinuteOutcome;
    expect(record.state).toBe('unknown');
    expect(record.figures['main_compressor.lift']).toMatchObject({
      quality: 'uncertain',
      reason: 'no point says whether the chiller runs',
    });
  });

  test('an agent started beside a running machine does not doubt it before there is evidence', () => {
    const { record } = fold([points()])[0] as MinuteOutcome;
    expect(record.figures['main_compressor.lift']?.quality).toBe('good');
  });

  test('a point that cannot be right raises the alarm after its delay; metrics and loops leave first, then the alarm, under one sequence', () => {
    const outcomes = fold(hour({ 'flash_tank.level': bad('frozen since 12:00') }));
    const raised = outcomes.find(({ events }) => events.length > 0) as MinuteOutcome;
    expect(raised.record.sequence).toBe(5);
    expect(raised.messages.map(({ address, retain, sequence }) => [address, retain, sequence])).toEqual([
      [`${ROOT}/CH-1/metrics`, false, 5],
      [`${ROOT}/CH-1/valves`, false, 5],
      [`${ROOT}/CH-1/alarms/sensor-implausible`, true, 5],
    ]);
    expect(raised.record.alarms[0]?.evidence[0]).toMatchObject({
      name: 'flash_tank.level',
      found: 'frozen since 12:00',
    });
  });

  test('a machine that stood long enough has its sensors compared; the one that is off is named and raises', () => {
    const rest = 293.15;
    const standing = (change: Record<string, PointValue> = {}) => ({
      ...points(),
      'unit.running': good(0),
      'unit.power': good(0),
      'evaporator.pressure': good(571_700, 3000),
      'flash_tank.pressure': good(571_700, 3000),
      'condenser.pressure': good(571_700, 3000),
      'condenser.liquid_temperature': good(rest, 0.3),
      'chilled_water.entering_temperature': good(rest, 0.1),
      'chilled_water.leaving_temperature': good(rest, 0.1),
      'condenser_water.entering_temperature': good(rest, 0.1),
      'condenser_water.leaving_temperature': good(rest, 0.1),
      ...change,
    });
    const stopped = Array.from({ length: 50 }, () => standing());
    const sound = fold([points(), ...stopped]).at(-1) as MinuteOutcome;
    expect(sound.record.state).toBe('standstill');
    expect(sound.record.standstill).toMatchObject({ ready: true, suspects: [], time: sound.record.time });
    expect(sound.record.alarms).toEqual([]);

    const warm = { 'condenser.liquid_temperature': good(rest + 4, 0.3) };
    const off = fold([points(), ...Array.from({ length: 50 }, () => standing(warm))]).at(-1) as MinuteOutcome;
    expect(off.record.standstill?.suspects.map(({ point }) => point)).toEqual(['condenser.liquid_temperature']);
    expect(off.record.alarms.map(({ id }) => id)).toEqual(['sensor-implausible']);
    expect(off.record.alarms[0]?.evidence[0]?.found).toMatch(/^at standstill 4\.\d K from the other sensors/);
  });

  test('no figure of a record is NaN, infinite or missing its reason', () => {
    for (const { record } of fold([points(), points({ 'condenser.pressure': bad('never read') }), {}])) {
      for (const [name, figure] of Object.entries(record.figures)) {
        if (figure.value === null) expect(figure.reason, name).toBeTruthy();
        else expect(Number.isFinite(figure.value), name).toBe(true);
      }
    }
  });
});

describe('a state of an earlier version', () => {
  const { state } = fold(hour()).at(-1) as MinuteOutcome;
  const lacking = (key: string) => {
    const { running, ...rest } = JSON.parse(JSON.stringify(state)) as Record<string, Record<string, unknown>>;
    delete running?.[key];
    delete rest[key];
    return key === 'running' ? rest : { ...rest, running };
  };
  const keys = [...Object.keys(MINUTE_START), ...Object.keys(MINUTE_START.running)].filter((key) => key !== 'sequence');

  test.each(keys)('that did not know %s goes on', (key) => {
    const before = continued(lacking(key)) as MinuteState;
    const { record } = fold([points(), points()], before).at(-1) as MinuteOutcome;
    expect(record.sequence).toBe(state.sequence + 2);
    expect(record.figures['unit.starts']?.value).toBe(0);
    expect(record.figures['unit.run_hours']?.value).toBeGreaterThanOrEqual(0);
  });

  test('what is no state is none', () => {
    for (const none of [null, 3, 'state', [], {}, { sequence: '1' }]) expect(continued(none)).toBeNull();
  });

  test('the present one is unchanged', () => {
    expect(continued(JSON.parse(JSON.stringify(state)))).toEqual(state);
  });
});
