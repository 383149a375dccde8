import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable, Writable } from 'node:stream';
import { describe, expect, test } from 'vitest';
import { command as cycle } from '../../../agent/commands/cycle.ts';
import type { Command } from '../../../agent/commands/io.ts';
import { command as solve } from '../../../agent/commands/solve.ts';
import { CYCLE_METRICS } from '../../../agent/cycle/metrics/definitions.ts';

const SITE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

async function call(command: Command, args: readonly string[], lines: readonly (object | string)[]) {
  const text = { out: '', err: '' };
  const sink = (into: 'out' | 'err') =>
    new Writable({
      write(chunk, _, done) {
        text[into] += String(chunk);
        done();
      },
    });
  const input = lines.map((line) => (typeof line === 'string' ? line : JSON.stringify(line))).join('\n');
  const io = {
    in: Readable.from([Buffer.from(input)]),
    out: sink('out'),
    err: sink('err'),
    stop: new AbortController().signal,
  };
  const code = await command.run(args, io);
  const answers = text.out.split('\n').filter((line) => line.startsWith('{'));
  return { code, answers: answers.map((line) => JSON.parse(line)), ...text };
}

const CIRCUIT = {
  refrigerant: 'R134a',
  arrangement: 'simple',
  evaporator: { p: 140e3 },
  condenser: { p: 800e3 },
  compressors: [{ isentropic_efficiency: 1 }],
  flow: 0.05,
};

describe('cycle', () => {
  test('a line for each line; a bad one is named and the rest goes on', async () => {
    const { code, answers } = await call(cycle, [], [CIRCUIT, 'nonsense', { ...CIRCUIT, flow: 'much' }, CIRCUIT]);
    expect(code).toBe(1);
    expect(answers.map((answer) => answer.error?.code ?? answer.cop.toFixed(2))).toEqual([
      '3.97',
      'bad_record',
      'bad_record',
      '3.97',
    ]);
    expect(answers[2].error.message).toMatch(/^line 3: .*flow/);
    expect(Object.keys(answers[0].states['1'])).toEqual(['T', 'p', 'h', 's', 'q', 'm']);
  });

  test('two stages with a flash chamber: COP 4.47, 2.594, and 3.380 kg/s from 100 kW (Cengel & Boles, Nag)', async () => {
    const common = { refrigerant: 'R134a', arrangement: 'interstage' };
    const [ideal, real] = [1, 0.86].map((isentropic_efficiency) => ({ isentropic_efficiency }));
    const { code, answers } = await call(
      cycle,
      [],
      [
        {
          ...common,
          evaporator: { p: 140e3 },
          tanks: [{ p: 320e3 }],
          condenser: { p: 800e3 },
          compressors: [ideal, ideal],
          flow: 1,
        },
        {
          ...common,
          evaporator: { T: 263.15 },
          tanks: [{ p: 450e3 }],
          condenser: { p: 1600e3 },
          compressors: [real, real],
          flow: 0.11,
        },
        {
          ...common,
          evaporator: { T: 263.15 },
          tanks: [{ p: 413.9e3 }],
          condenser: { p: 767.5e3 },
          compressors: [ideal],
          power: 1e5,
        },
      ],
    );
    expect(code).toBe(0);
    const [example, problem, nag] = answers;
    expect(Math.abs(example.cop - 4.47)).toBeLessThan(0.0065);
    expect(example.metrics['flash_tank.flash_fraction']).toBeCloseTo(0.2049, 4);
    expect(Math.abs(problem.cop - 2.594)).toBeLessThan(0.003);
    expect(problem.states['7'].m).toBeCloseTo(0.06072, 4);
    expect(Math.abs(nag.flow / 3.38 - 1)).toBeLessThan(0.02);
    expect(Object.keys(example.states).sort()).toEqual(['1', '10', '2', '3', '4', '5', '6', '7', '9']);
  });

  test('arguments are a wrong call; --help is not', async () => {
    expect((await call(cycle, ['--fast'], [])).code).toBe(2);
    const help = await call(cycle, ['--help'], []);
    expect([help.code, help.out.startsWith('tonhour cycle')]).toEqual([0, true]);
  });
});

/** I-P as a technician reads it off the panel: 5/20/37 degC. */
const POINTS = {
  'evaporator.pressure': { value: 36.02, unit: 'psig' },
  'condenser.pressure': { value: 121.24, unit: 'psig', u: 0.5 },
  'flash_tank.pressure': { value: 68.23, unit: 'psig' },
  'condenser.liquid_temperature': { value: 91.4, unit: 'degF' },
  'economizer_compressor.running': { value: 1, unit: 'state' },
};
const ARGS = ['--config', SITE, '--chiller', 'CH-1'];
const minute = (points: object) => ({ time: '2026-07-01T12:00:00Z', points });

test('solve: two stages with the evaporator in vacuum, as the panel of the second machine shows it', async () => {
  const points = {
    'evaporator.pressure': { value: 12.17, unit: 'inHg_vac' },
    'flash_tank.pressure': { value: 15.64, unit: 'psia' },
    'condenser.pressure': { value: 13.69, unit: 'psig' },
    'condenser.liquid_temperature': { value: 91.4, unit: 'degF' },
    'main_compressor.discharge_temperature': { value: 110.8, unit: 'degF' },
    'economizer.running': { value: 1, unit: 'state' },
    'unit.power': { value: 480, unit: 'kW' },
  };
  const { code, answers } = await call(solve, ['--config', SITE, '--chiller', 'CH-2'], [minute(points)]);
  expect(code).toBe(0);
  const [answer] = answers;
  expect(answer.economizer).toBe('on');
  expect(Object.keys(answer.states).sort()).toEqual(['1', '10', '2', '3', '4', '5', '6', '7', '9']);
  expect(answer.metrics['evaporator.saturation_temperature'].value).toBeCloseTo(5, 0);
  expect(answer.metrics['main_compressor.first_stage_lift'].value).toBeCloseTo(15, 0);
  // what the saved part is stated to: a few points of a few per cent
  const { value: saved, uncertainty } = answer.metrics['economizer.saving_fraction'];
  expect(saved).toBeGreaterThan(0.02);
  expect(saved).toBeLessThan(0.08);
  expect(uncertainty).toBeGreaterThan(0);
  // both gauges of the barometer: the stated doubt of the vented one alone is wider than its own 0.68 kPa
  expect(answer.metrics['evaporator.saturation_temperature'].uncertainty).toBeGreaterThan(2 * 0.4 * 1.2 * 0.98);
});

describe('solve', () => {
  test('gauge pressures in psi, temperatures in degF: the flash fraction of the condition', async () => {
    const { code, answers } = await call(solve, ARGS, [minute(POINTS)]);
    expect(code).toBe(0);
    const [answer] = answers;
    expect(answer.metrics['flash_tank.flash_fraction'].value).toBeCloseTo(0.1021, 3);
    expect(answer.metrics['flash_tank.flash_fraction'].unit).toBe('1');
    expect(answer.metrics['condenser.saturation_temperature'].value).toBeCloseTo(37, 1);
    expect(Object.keys(answer.metrics).sort()).toEqual(CYCLE_METRICS.map(({ name }) => name).sort());
    expect([answer.state, answer.economizer]).toEqual(['running', 'on']);
    expect([answer.corrections, answer.suspects, answer.chi_square]).toEqual([{}, [], null]);
    expect(answer.unobservable).toContain('unit.kw_per_ton');
    expect(Object.keys(answer.states)).toHaveLength(8);
  });

  test('a level that rises: 0.05 % a second of 0.9 m3 of liquid at 25 degC (1206.71 kg/m3, CoolProp 8.0.0)', async () => {
    const level = { value: 50, unit: '%', rate: 0.05, rate_u: 0.001 };
    const warm = {
      'condenser.pressure': { value: 665.381, unit: 'kPa' },
      'condenser.liquid_temperature': { value: 25, unit: 'degC' },
    };
    const { answers } = await call(solve, ARGS, [minute({ ...POINTS, ...warm, 'condenser.level': level })]);
    const hand = 0.0005 * 0.9 * 1206.71;
    const { value, uncertainty } = answers[0].metrics['condenser.storage_mass_flow'];
    expect(value).toBeCloseTo(hand, 3);
    // 2 % of the rate, 10 % of the area as the site file leaves it; expanded
    expect(uncertainty / hand).toBeCloseTo(2 * Math.hypot(0.02, 0.1), 3);
  });

  test.each([
    ['condenser.level', { value: 50, unit: '%', rate: 0.05 }, 'rate and rate_u (standard uncertainty) go together'],
    ['condenser_valve.position', { value: 50, unit: '%', rate: 0.05, rate_u: 0.01 }, 'only a level has a rate'],
    ['condenser.level', { value: 50, unit: '%', rate: 'fast', rate_u: 0.01 }, 'rate'],
  ])('%s with %o: refused in words', async (name, point, words) => {
    const { code, answers } = await call(solve, ARGS, [minute({ ...POINTS, [name]: point })]);
    expect(code).toBe(1);
    expect(answers[0].error).toMatchObject({ code: 'bad_record' });
    expect(answers[0].error.message).toContain(words);
  });

  test('the barometer of the site is the zero of its gauges', async () => {
    const gauge = await call(solve, ARGS, [minute(POINTS)]);
    const absolute = { ...POINTS, 'evaporator.pressure': { value: 36.02 * 6.894757 + 101.3, unit: 'kPa' } };
    const same = await call(solve, ARGS, [minute(absolute)]);
    const name = 'evaporator.saturation_temperature';
    expect(same.answers[0].metrics[name].value).toBeCloseTo(gauge.answers[0].metrics[name].value, 4);
  });

  test('a sealed gauge keeps its standard atmosphere wherever it stands', async () => {
    const folder = await mkdtemp(join(tmpdir(), 'tonhour-'));
    const high = join(folder, 'site.yaml');
    const text = (await readFile(SITE, 'utf8')).replace(/barometer: .*/, 'barometer: 85 kPa');
    await writeFile(high, text.replaceAll('vented_gauge', 'sealed_gauge'));
    const sealed = await call(solve, ['--config', high, '--chiller', 'CH-1'], [minute(POINTS)]);
    await writeFile(high, text);
    const vented = await call(solve, ['--config', high, '--chiller', 'CH-1'], [minute(POINTS)]);
    await rm(folder, { recursive: true });
    const boiling = ({ answers }: typeof sealed) =>
      answers[0].metrics['evaporator.saturation_temperature'].value as number;
    expect(boiling(sealed)).toBeCloseTo(5, 1);
    // 16.3 kPa of 0.082 K/kPa
    expect(boiling(sealed) - boiling(vented)).toBeCloseTo(16.3 * 0.082, 1);
  });

  test('u given, or the site file’s, or the common default', async () => {
    const name = 'condenser.saturation_temperature';
    const of = async (point: object) => {
      const { answers } = await call(solve, ARGS, [minute({ ...POINTS, 'condenser.pressure': point })]);
      return answers[0].metrics[name].uncertainty as number;
    };
    const half = await of({ value: 121.24, unit: 'psig', u: 0.5 });
    expect(await of({ value: 121.24, unit: 'psig', u: 1 })).toBeCloseTo(2 * half, 3);
    expect(await of({ value: 121.24, unit: 'psig' })).toBeGreaterThan(0);
    // 0.5 psi of 0.0393 K/kPa, k = 2
    expect(half).toBeCloseTo(2 * 0.5 * 6.894757 * 0.0393, 2);
  });

  test('a point out of its range is bad and costs its own figures', async () => {
    const points = { ...POINTS, 'condenser.liquid_temperature': { value: 1e6, unit: 'degF' } };
    const { code, answers } = await call(solve, ARGS, [minute(points)]);
    expect(code).toBe(0);
    expect(answers[0].metrics['condenser.subcooling'].value).toBeNull();
    expect(answers[0].metrics['condenser.subcooling'].reason).toContain('condenser.liquid_temperature is bad');
    expect(answers[0].metrics['main_compressor.lift'].quality).toBe('good');
  });

  test('quality and reason may be given', async () => {
    const points = {
      ...POINTS,
      'condenser.liquid_temperature': { value: null, unit: 'degF', quality: 'bad', reason: 'open' },
    };
    const { answers } = await call(solve, ARGS, [minute(points)]);
    expect(answers[0].metrics['condenser.subcooling'].reason).toBe('condenser.liquid_temperature is bad: open');
  });

  test('bad lines are named: point, unit, time, form', async () => {
    const lines = [
      minute({ 'evaporator.presure': { value: 1, unit: 'psig' } }),
      minute({ 'evaporator.pressure': { value: 1, unit: 'gpm' } }),
      { time: 'noon', points: {} },
      { points: {} },
      minute({}),
    ];
    const { code, answers } = await call(solve, ARGS, lines);
    expect(code).toBe(1);
    expect(answers.map((answer) => answer.error?.code ?? 'answered')).toEqual([
      ...Array.from({ length: 4 }, () => 'bad_record'),
      'answered',
    ]);
    expect(answers[0].error.message).toContain("'evaporator.pressure'");
    expect(answers[1].error.message).toContain('does not measure pressure');
  });

  test('wrong calls and a wrong site file end with 2', async () => {
    expect((await call(solve, ['--chiller', 'CH-1'], [])).code).toBe(2);
    expect((await call(solve, ['--config', SITE], [])).code).toBe(2);
    const unknown = await call(solve, ['--config', SITE, '--chiller', 'CH-9'], []);
    expect(unknown.code).toBe(2);
    expect(unknown.err).toContain('there are CH-1');
    const missing = await call(solve, ['--config', '/nowhere.yaml', '--chiller', 'CH-1'], []);
    expect(missing.code).toBe(2);
    expect(missing.err).toContain('/nowhere.yaml');
  });
});
