import { PassThrough, Readable } from 'node:stream';
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { command } from '../../../agent/commands/properties.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';

async function run(args: string[], input = ''): Promise<{ code: number; out: string; err: string }> {
  const [out, err] = [new PassThrough(), new PassThrough()];
  const io = { in: Readable.from([input]), out, err, stop: new AbortController().signal };
  const code = await command.run(args, io);
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

describe('properties', () => {
  test.each([
    ['TP', '{"T":300,"p":500000}', (fluid: ReturnType<typeof R134a>) => fluid.TP(300, 5e5)],
    ['PH', '{"p":500000,"h":430000}', (fluid: ReturnType<typeof R134a>) => fluid.PH(5e5, 430e3)],
    ['PS', '{"s":1500,"p":500000}', (fluid: ReturnType<typeof R134a>) => fluid.PS(5e5, 1500)],
    ['PQ', '{"p":500000,"q":1}', (fluid: ReturnType<typeof R134a>) => fluid.PQ(5e5, 1)],
    ['TQ', '{"T":280,"q":0.25}', (fluid: ReturnType<typeof R134a>) => fluid.TQ(280, 0.25)],
  ])('%s answers the state of the record', async (pair, line, solve) => {
    const { code, out, err } = await run(['--refrigerant', 'R-134a', '--pair', pair], `${line}\n`);
    expect(err).toBe('');
    expect(code).toBe(0);
    const state = JSON.parse(out) as object;
    expect(Object.keys(state)).toStrictEqual(['T', 'p', 'rho', 'h', 's', 'q', 'cp', 'cv', 'w', 'phase']);
    expect(state).toStrictEqual({ ...must(solve(R134a())) });
  });

  test('bad lines say what is wrong and where, the others are answered, exit code 1', async () => {
    const lines = [
      '{"T":300,"p":500000}',
      '{"T":300}',
      '{"T":"300","p":5e5}',
      '{"T":300,"p":5e5,"q":1}',
      '[300,5e5]',
      'null',
      'nonsense',
      '{"T":300,"p":1e999}',
      '{"T":300,"p":null}',
      '{"T":26.85,"p":500000}',
      '{"T":310,"p":500000}',
    ];
    const { code, out } = await run(['--refrigerant=R134a', '--pair=tp'], lines.join('\n'));
    expect(code).toBe(1);
    const answers = out
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line) as { error?: { code: string; message: string } });
    expect(answers).toHaveLength(lines.length);
    expect(answers.map((answer) => answer.error?.code ?? 'state')).toStrictEqual([
      'state',
      ...Array<string>(6).fill('bad_record'),
      'refrigerant_out_of_range',
      'bad_record',
      'refrigerant_out_of_range',
      'state',
    ]);
    answers.forEach(({ error }, i) => {
      if (error !== undefined) expect(error.message).toContain(`line ${i + 1}: `);
    });
    expect(answers[1]?.error?.message).toContain("'p' is missing");
    expect(answers[3]?.error?.message).toContain("'q' does not belong");
  });

  test.each([
    [[], '--refrigerant is missing'],
    [['--refrigerant', 'R134a'], '--pair is missing'],
    [['--refrigerant', 'R134a', '--pair', 'TS'], "no pair 'TS'"],
    [['--refrigerant', 'R999', '--pair', 'TP'], "no equation of state for 'R999'"],
    [['--refrigerant', 'R134a', '--pair', 'TP', '--fluid'], '--fluid'],
    [['--refrigerant', 'R134a', '--pair', 'TP', 'extra'], 'extra'],
    [['--refrigerant'], '--refrigerant'],
  ])('wrong usage %j: exit code 2, nothing on standard output', async (args, message) => {
    const { code, out, err } = await run(args, '{"T":300,"p":5e5}\n');
    expect(code).toBe(2);
    expect(out).toBe('');
    expect(err).toContain(message);
    expect(err).toContain('tonhour properties --refrigerant');
  });

  test('--help prints the usage', async () => {
    const { code, out } = await run(['--help']);
    expect(code).toBe(0);
    expect(out).toContain('R1233zdE');
  });
});

function R134a() {
  return must(refrigerant('R134a'));
}
