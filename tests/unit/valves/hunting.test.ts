/** The verb, from file to JSON. */
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable, Writable } from 'node:stream';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { command } from '../../../agent/commands/hunting.ts';
import { normal, uniform } from './loops.ts';

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'tonhour-hunting-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

function collector(): { readonly stream: Writable; text: () => string } {
  const chunks: string[] = [];
  const stream = new Writable({
    write(chunk, _, done) {
      chunks.push(String(chunk));
      done();
    },
  });
  return { stream, text: () => chunks.join('') };
}

async function call(args: readonly string[]) {
  const [out, err] = [collector(), collector()];
  const io = { in: Readable.from([]), out: out.stream, err: err.stream, stop: new AbortController().signal };
  const code = await command.run(args, io);
  return { code, out: out.text(), err: err.text() };
}

async function file(text: string, name = 'loop.csv'): Promise<string> {
  const path = join(folder, name);
  await writeFile(path, text);
  return path;
}

const COLUMNS = ['--time', 't', '--output', 'out', '--measured', 'level'];
const draw = uniform(21);
const rows = (time: (i: number) => string, separator = ','): string[] =>
  Array.from({ length: 750 }, (_, i) => {
    const angle = (2 * Math.PI * i) / 15;
    return [time(i), 40 + 5 * Math.sin(angle + 2), 50 + 3 * Math.sin(angle) + 0.2 * normal(draw), 50].join(separator);
  });
const SECONDS = (i: number): string => String(10 * i);
const table = (lines: readonly string[], head = 't,out,level,set'): string => `${head}\n${lines.join('\n')}\n`;

describe('a recording', () => {
  test('ten-second rows of a swing of 150 s and 3 %', async () => {
    const path = await file(table(rows(SECONDS)));
    const { code, out } = await call([path, ...COLUMNS, '--setpoint', 'set', '--band', '1']);
    expect(code).toBe(0);
    const answer = JSON.parse(out);
    expect(answer).toMatchObject({
      verdict: 'hunting',
      cause: 'tuning',
      sticking: { verdict: 'not_sticking' },
      flags: [],
    });
    expect(answer.period_s).toBeCloseTo(150, 0);
    expect(Math.abs(answer.amplitude - 3)).toBeLessThan(0.1);
    expect(answer.index).toBeGreaterThan(0.9);
    expect(answer.seen).toEqual({ interval_s: 10, shortest_s: 50, longest_s: 749 });
  });
  test('semicolons, quotes, a byte order mark, RFC 3339, carriage returns, empty cells: the same', async () => {
    const stamp = (i: number): string => `"${new Date(Date.UTC(2026, 6, 1) + 10_000 * i).toISOString()}"`;
    const lines = rows(stamp, ';');
    lines[100] = `${stamp(100)};;;`;
    const path = await file(`\uFEFF${table(lines, 't;"out";level;set').replaceAll('\n', '\r\n')}`);
    const answer = JSON.parse((await call([path, ...COLUMNS])).out);
    expect(answer.verdict).toBe('hunting');
    expect(answer.period_s).toBeCloseTo(150, 0);
    expect(answer.flags).toEqual(['no_band']);
  });
  test('a band above the amplitude', async () => {
    const path = await file(table(rows(SECONDS)));
    expect(JSON.parse((await call([path, ...COLUMNS, '--band', '4'])).out).verdict).toBe('steady');
  });
  test('ten rows are not enough', async () => {
    const path = await file(table(rows(SECONDS).slice(0, 10)));
    const { code, out } = await call([path, ...COLUMNS]);
    expect([code, JSON.parse(out).verdict]).toEqual([0, 'not_enough']);
  });
});

describe('what cannot be read is named by file and line', () => {
  const lines = rows(SECONDS);
  const bent = (index: number, line: string): string => table(lines.map((each, i) => (i === index ? line : each)));
  test.each([
    ['a word', bent(4, '40,forty,50,50'), /loop\.csv:6: out 'forty' is not a number/],
    ['a time that goes back', bent(4, '30,1,1,1'), /loop\.csv:6: the time is not after that of the sample before/],
    ['a time that is none', bent(4, 'noon,1,1,1'), /loop\.csv:6: time 'noon' is neither seconds nor RFC 3339/],
    ['cells too few', bent(4, '40,1'), /loop\.csv:6: 2 cells under 4 column names/],
    ['no such column', table(lines, 't,out,lvl,set'), /loop\.csv:1: no column 'level'; there are t, out, lvl, set/],
    ['a column twice', table(lines, 't,out,level,level'), /loop\.csv:1: two columns are named 'level'/],
    ['nothing', '', /loop\.csv:1: there is no line of column names/],
  ])('%s', async (_, text, message) => {
    const { code, out, err } = await call([await file(text), ...COLUMNS]);
    expect([code, out]).toEqual([2, '']);
    expect(err).toMatch(message);
  });
  test('no such file', async () => {
    const { code, err } = await call([join(folder, 'none.csv'), ...COLUMNS]);
    expect(code).toBe(2);
    expect(err).toContain('none.csv');
  });
});

describe('wrong usage', () => {
  test.each([
    [[], 'name one file'],
    [['a.csv', '--time', 't', '--measured', 'm'], '--output is missing'],
    [['a.csv', ...COLUMNS, '--kind', 'heat'], '--kind heat: it is one of level, flow, pressure, other'],
    [['a.csv', ...COLUMNS, '--band', 'wide'], '--band wide: not a number above 0'],
    [['a.csv', ...COLUMNS, '--stroke', '-1'], '--stroke'],
    [['a.csv', ...COLUMNS, '--colour', 'red'], 'colour'],
  ])('%j', async (args, message) => {
    const { code, err } = await call(args);
    expect(code).toBe(2);
    expect(err).toContain(message);
  });
});
