/** Files, functions and lines stay short enough to be read. */
import { expect, test } from 'vitest';
import { checkSizes, EXEMPT, SIZES } from './sizes.ts';
import { show } from './source.ts';
import { TREE } from './tree.ts';

const planted = (text: string, path = 'agent/cycle/a.ts') => show(checkSizes([{ path, text }]));
const lines = (count: number, line = 'x();') => Array.from({ length: count }, () => line).join('\n');

test('the tree keeps the sizes', () => {
  expect(show(checkSizes(TREE))).toEqual([]);
});

test('every exemption has its reason', () => {
  for (const { path, reason } of EXEMPT) expect(reason.length, path).toBeGreaterThan(10);
});

test('a planted long file', () => {
  expect(planted(`${lines(SIZES.file_lines_max)}\n`)).toEqual([]);
  expect(planted(`${lines(SIZES.file_lines_max + 1)}\n`)).toEqual(['agent/cycle/a.ts:1: has 301 lines, more than 300']);
  expect(planted(lines(400), 'agent/refrigerant/data/r134a.ts')).toEqual([]);
});

test.each([
  ['function', (body: string) => `function long() {\n${body}\n}`],
  ['arrow', (body: string) => `const long = () => {\n${body}\n};`],
  ['method', (body: string) => `class A { long() {\n${body}\n} }`],
])('a planted long %s', (_kind, wrap) => {
  expect(planted(wrap(lines(SIZES.function_lines_max - 2)))).toEqual([]);
  expect(planted(wrap(lines(SIZES.function_lines_max - 1)))).toEqual([
    'agent/cycle/a.ts:1: long has 71 lines, more than 70',
  ]);
});

test('a group of tests may be long, a test may not', () => {
  const path = 'tests/unit/a.test.ts';
  const group = `test('y', () => {});\n${lines(90)}`;
  expect(planted(`describe('x', () => {\n${group}\n});`, path)).toEqual([]);
  expect(planted(`function suite() {\ndescribe.each([1])('x', () => {\n${group}\n});\n}`, path)).toEqual([]);
  expect(planted(`test('x', () => {\n${lines(90)}\n});`, path)).toHaveLength(1);
  expect(planted(`describe('x', () => {\n${group}\n});`)).toHaveLength(1);
});

test('a planted long line', () => {
  expect(planted(`// ${'x'.repeat(117)}`)).toEqual([]);
  expect(planted(`// ${'x'.repeat(118)}`)).toEqual(['agent/cycle/a.ts:1: has 121 characters, more than 120']);
  expect(planted(`const x = '${'x'.repeat(150)}';`)).toEqual([]);
  expect(planted(`const x = '${'x'.repeat(20)}'; // ${'x'.repeat(120)}`)).toHaveLength(1);
});
