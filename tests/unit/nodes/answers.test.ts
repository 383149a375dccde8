// Goal: each node answers a good message with figures that agree with published ones or with the trade's arithmetic,
// and a bad one with an error that a catch node can tell apart; nothing throws into the host.
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import chillerNode, { solverOf } from '../../../nodes/chiller.ts';
import huntingNode from '../../../nodes/hunting.ts';
import { answerMessages } from '../../../nodes/lib/answering.ts';
import propertiesNode from '../../../nodes/properties.ts';
import solveNode from '../../../nodes/solve.ts';
import { place } from './host.ts';

describe('properties', () => {
  const node = place(propertiesNode, { refrigerant: 'R134a', pair: 'TQ' });

  test('R-134a at 0 degC: 292.80 kPa, saturated vapour 1.7271 kJ/(kg K)', () => {
    // Tables of the International Institute of Refrigeration, from memory; half a unit of the last digit.
    const { sent, error } = node.take({ payload: { T: 273.15, q: 1 }, topic: 'kept' });
    expect(error).toBeNull();
    const [{ payload, topic }] = sent as [{ payload: { p: number; s: number }; topic: string }];
    expect(Math.abs(payload.p - 292_800)).toBeLessThan(5);
    expect(Math.abs(payload.s - 1727.1)).toBeLessThan(0.05);
    expect(topic).toBe('kept');
  });

  test('a message may name refrigerant and pair itself', () => {
    const { sent } = node.take({ payload: { T: 273.15, q: 0 }, refrigerant: 'R-1233zd(E)', pair: 'tq' });
    // Reference state of the International Institute of Refrigeration: 200 kJ/kg, saturated liquid at 0 degC.
    const liquid = sent[0]?.payload as { h: number; p: number };
    expect(Math.abs(liquid.h - 200e3)).toBeLessThan(10);
    expect(liquid.p).toBeLessThan(101_325); // below the atmosphere, which R-134a is not at 0 degC
  });

  test.each([
    [{ payload: { T: 273.15 } }, 'bad_record', /'q' is missing/],
    [{ payload: 'cold' }, 'bad_record', /not an object/],
    [{}, 'bad_record', /not an object/],
    [{ payload: { T: 9000, q: 1 } }, 'refrigerant_out_of_range', /./],
    [{ payload: { T: Number.NaN, q: 1 } }, 'refrigerant_out_of_range', /./],
    [{ payload: { T: 273.15, q: 1 }, refrigerant: 'R9' }, 'refrigerant_unknown', /R134a/],
    [{ payload: { T: 273.15, q: 1 }, pair: 'QX' }, 'bad_record', /no pair 'QX'/],
  ])('%j is the error %s', (message, code, words) => {
    const { sent, error } = node.take(message);
    expect(sent).toEqual([]);
    expect(error?.code).toBe(code);
    expect(error?.message).toMatch(words);
    expect(node.statuses.at(-1)?.fill).toBe('red');
  });
});

const MACHINE = 'machine: { refrigerant: R134a, arrangement: simple, rated_capacity: 500 ton }\n';
const POINTS = {
  'evaporator.pressure': { value: 300, unit: 'kPa' },
  'condenser.pressure': { value: 900, unit: 'kPa' },
  'chilled_water.entering_temperature': { value: 12, unit: 'degC' },
  'chilled_water.leaving_temperature': { value: 7, unit: 'degC' },
  'chilled_water.flow': { value: 100, unit: 'l/s' },
  'unit.power': { value: 400, unit: 'kW' },
};
interface Solved {
  readonly state: string;
  readonly metrics: Readonly<Record<string, { readonly value: number | null; readonly unit: string }>>;
}

describe('solve', () => {
  const chiller = place(chillerNode, { description: MACHINE, barometer: '101.3 kPa' });
  const node = place(solveNode, { chiller: 'c' }, { c: chiller.node });
  const solve = (points: object) => node.take({ payload: { time: '2026-06-01T12:00:00Z', points } });

  test('100 l/s of water cooled by 5 K are 2100 kW, 0.67 kW/ton at 400 kW', () => {
    // 4.2 kJ/(kg K) of water at 10 degC: common practice; a ton is 3.517 kW.
    const { sent, error } = solve(POINTS);
    expect(error).toBeNull();
    const [{ payload }] = sent as [{ payload: Solved }];
    const { state, metrics } = payload;
    expect(state).toBe('running');
    expect(metrics['unit.kw_per_ton']?.value).toBeCloseTo(400 / ((100 * 4.2 * 5) / 3.517), 2);
    expect(node.statuses.at(-1)).toEqual({ fill: 'green', shape: 'dot', text: 'running' });
  });

  test('without a time it is now', () => {
    const { sent } = node.take({ payload: { points: POINTS } });
    const [{ payload }] = sent as [{ payload: { time: string } }];
    const age = Date.now() - Date.parse(payload.time);
    expect(Math.abs(age)).toBeLessThan(60_000);
  });

  test('a point that was not measured costs its figures alone', () => {
    const { sent } = solve({ ...POINTS, 'chilled_water.flow': { value: null, unit: 'l/s' } });
    const [{ payload }] = sent as [{ payload: Solved }];
    expect(payload.metrics['main_compressor.lift']?.value).toBeGreaterThan(0);
  });

  test.each([
    [{ 'evaporator.presure': { value: 1, unit: 'kPa' } }, /evaporator\.presure: no such point.*'evaporator\.pressure'/],
    [{ 'evaporator.pressure': { value: 1, unit: 'degC' } }, /'degC' does not measure pressure/],
    [{ 'evaporator.pressure': { value: '1', unit: 'kPa' } }, /expected number/],
    [{ 'evaporator.pressure': 1 }, /expected object/],
  ])('%j is a bad record', (points, words) => {
    const { sent, error } = solve(points);
    expect(sent).toEqual([]);
    expect(error?.code).toBe('bad_record');
    expect(error?.message).toMatch(words);
  });

  test.each([[null], [[]], ['x'], [7], [undefined], [{}], [{ points: null }]])(
    'payload %j is a bad record',
    (payload) => {
      expect(node.take({ payload }).error?.code).toBe('bad_record');
    },
  );

  test('a mistake in the description names its line, at once and with each message', () => {
    const wrong = place(chillerNode, {
      description: 'machine:\n  refrigerant: R134a\n  arangement: simple\n',
      barometer: '',
    });
    expect(wrong.errors.join()).toContain('description:3: machine.arangement: unknown key');
    const refusing = place(solveNode, { chiller: 'c' }, { c: wrong.node });
    expect(refusing.take({ payload: { points: POINTS } }).error?.message).toContain(
      "the nearest known is 'arrangement'",
    );
  });

  test('without a chiller it says what to do', () => {
    const refusing = place(solveNode, { chiller: 'gone' });
    expect(refusing.take({ payload: {} }).error).toMatchObject({ code: 'node_settings' });
    expect(refusing.statuses.at(-1)?.fill).toBe('red');
  });
});

describe('description of a chiller', () => {
  const lift = (solver: ReturnType<typeof solverOf>): number => {
    if (!solver.ok) throw new Error(solver.fault.message);
    const points = { ...POINTS, 'condenser.pressure': { value: 110, unit: 'psig' } };
    const solved = solver.value({ time: '2026-06-01T12:00:00Z', points });
    if (!solved.ok) throw new Error(solved.fault.message);
    return (solved.value as Solved).metrics['main_compressor.lift']?.value as number;
  };

  test('a gauge pressure counts from the barometer given, or from the sealed standard atmosphere', () => {
    const section = `${MACHINE}source: { modbus: { host: a } }
points:
  condenser.pressure: { address: { register: 1, type: int16, table: holding }, unit: psig, reference: sealed_gauge }
`;
    const [low, high] = [lift(solverOf(MACHINE, '80 kPa')), lift(solverOf(MACHINE, '101.325 kPa'))];
    expect(high - low).toBeGreaterThan(0.5); // 21 kPa near 0.86 MPa are about 0.8 K of saturation
    expect(lift(solverOf(section, '80 kPa'))).toBeCloseTo(high, 9);
  });

  test.each([
    ['', '101 kPa', /is empty/],
    ['machine: [', '101 kPa', /not YAML/],
    ['- 1', '101 kPa', /./],
    [MACHINE, '5 psig', /barometer/],
    [MACHINE.replace('R134a', 'R9'), '101 kPa', /description:1: machine\.refrigerant/],
    [`${MACHINE}pints: {}\n`, '101 kPa', /description:2: pints: unknown key/],
    ['x'.repeat(LIMITS.site_file_bytes_max + 1), '101 kPa', /longer than/],
  ])('case %# is refused', (section, barometer, words) => {
    const solver = solverOf(section, barometer);
    expect(solver.ok ? '' : solver.fault.message).toMatch(words);
  });
});

describe('hunting', () => {
  const settings = { kind: 'level', window: 120, every: 60, band: '', stroke: '' };
  const start = Date.parse('2026-06-01T00:00:00Z');
  const sample = (i: number, swing: number) => ({
    time: start + 3000 * i,
    measured: 50 + swing * Math.sin((2 * Math.PI * 3 * i) / 75) + 0.2 * Math.sin(12.9898 * i * i),
    output: 40 + 2 * swing * Math.sin((2 * Math.PI * 3 * i) / 75 + 0.6),
  });
  const hour = (swing: number) => Array.from({ length: 1200 }, (_, i) => sample(i, swing));

  test('a swing of 75 s is hunting of that period and amplitude, a quiet loop is steady', () => {
    const { sent } = place(huntingNode, settings).take({ payload: hour(3), judge: true });
    const verdict = sent[0]?.payload as { verdict: string; period_s: number; amplitude: number };
    expect(verdict.verdict).toBe('hunting');
    expect(verdict.period_s).toBeCloseTo(75, 0);
    expect(Math.abs(verdict.amplitude - 3)).toBeLessThan(0.3);
    const quiet = place(huntingNode, settings).take({ payload: hour(0), judge: true });
    expect(quiet.sent[0]?.payload).toMatchObject({ verdict: 'steady', samples: 1200 });
  });

  test('one sample at a time: a verdict as often as asked for, and only then', () => {
    const node = place(huntingNode, { ...settings, every: 30 });
    const sent = Array.from({ length: 21 }, (_, i) => node.take({ payload: sample(i, 3) }).sent.length);
    expect(sent.flatMap((count, i) => (count > 0 ? [i] : []))).toEqual([10, 20]);
  });

  test('however many samples come, the window stays bounded in time and in number', () => {
    const short = place(huntingNode, { ...settings, window: 10 });
    const kept = (node: typeof short, payload: unknown) =>
      (node.take({ payload, judge: true }).sent as [{ payload: { samples: number } }])[0].payload.samples;
    expect(kept(short, hour(1))).toBe(201); // ten minutes of one each 3 s, both ends
    const fast = place(huntingNode, settings);
    for (let block = 0; block < 4; block++)
      fast.take({
        payload: Array.from({ length: 7000 }, (_, i) => ({ ...sample(0, 1), time: start + 7000 * block + i })),
      });
    expect(kept(fast, { ...sample(0, 1), time: start + 28_001 })).toBe(LIMITS.fast_window_samples_max);
  });

  test.each([
    [{ measured: 1 }, /output/],
    [{ measured: '1', output: 2 }, /measured/],
    [{ measured: 1, output: 2, time: 'noon' }, /neither RFC 3339/],
    [[{ measured: 1, output: 2 }], /sample 0: each of a list needs its time/],
    [[], /without samples/],
    [null, /expected object/],
    [Array.from({ length: 7201 }, (_, i) => ({ measured: 1, output: 1, time: i })), /at most 7200/],
  ])('samples %# are a bad record', (payload, words) => {
    const { sent, error } = place(huntingNode, settings).take({ payload });
    expect(sent).toEqual([]);
    expect(error?.code).toBe('bad_record');
    expect(error?.message).toMatch(words);
  });

  test('a clock that was set back is told, nothing is lost, and reset begins anew', () => {
    const node = place(huntingNode, settings);
    node.take({ payload: sample(5, 1) });
    expect(node.take({ payload: [sample(6, 1), sample(4, 1)] }).error?.message).toContain('msg.reset = true');
    expect(node.take({ payload: sample(6, 1) }).error).toBeNull();
    expect(node.take({ reset: true }).error).toBeNull();
    expect(node.take({ payload: sample(0, 1) }).error).toBeNull();
  });

  test.each([
    [{ window: 121 }, /window/],
    [{ every: 0 }, /verdict every/],
    [{ band: '-1' }, /amplitude/],
    [{ stroke: 'x' }, /stroke/],
    [{ kind: 'heat' }, /level, flow/],
  ])('the setting %j is refused', (wrong, words) => {
    const { error } = place(huntingNode, { ...settings, ...wrong }).take({ payload: sample(0, 1) });
    expect(error).toMatchObject({ code: 'node_settings', message: expect.stringMatching(words) as string });
  });
});

test('what throws within a node ends as the error of its message', () => {
  const node = place(
    (runtime) =>
      runtime.nodes.registerType('breaks', function breaks() {
        answerMessages(this, () => {
          throw new Error('a broken claim');
        });
      }),
    {},
  );
  expect(node.take({ payload: 1 }).error?.message).toBe('a broken claim');
});
