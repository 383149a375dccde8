/** Pure rooms are pure, and the check finds each way out. */
import { describe, expect, test } from 'vitest';
import { checkPurity } from './purity.ts';
import table from './rooms.json' with { type: 'json' };
import { show } from './source.ts';
import { TREE } from './tree.ts';

const planted = (text: string, path = 'agent/cycle/a.ts') => show(checkPurity([{ path, text }], table));

test('the pure rooms of the tree are pure', () => {
  expect(show(checkPurity(TREE, table))).toEqual([]);
});

describe('planted breaches', () => {
  test.each([
    ['const t = Date.now();', 'uses Date'],
    ['const t = new Date();', 'uses Date'],
    ['export function f(at: Date) { return at; }', 'uses Date'],
    ['const t = performance.now();', 'uses performance'],
    ['const r = Math.random();', 'uses Math.random'],
    ["const r = Math['random']();", 'uses Math.random'],
    ['const { random } = Math;', 'uses Math.random'],
    ['const r = crypto.randomUUID();', 'uses crypto'],
    ['const e = process.env;', 'uses process'],
    ['const e = globalThis;', 'uses globalThis'],
    ['setTimeout(() => 1, 1);', 'uses setTimeout'],
    ['const later = { setTimeout };', 'uses setTimeout'],
    ['const p = new Promise(() => 1);', 'uses Promise'],
    ["console.log('x');", 'uses console'],
    ['async function f() { return 1; }', 'is asynchronous'],
    ['const f = async () => 1;', 'is asynchronous'],
    ["const later = import('./b.ts');", 'imports at run time'],
    ['const here = import.meta.url;', 'asks where it lies'],
    ['let count = 0;\nexport function f() { return ++count; }', 'keeps a variable between calls'],
    ['export let count = 0;', 'keeps a variable between calls'],
  ])('%s', (text, message) => {
    expect(planted(text)).toEqual([expect.stringContaining(message)]);
  });

  test('await is found where it stands', () => {
    expect(planted('async function f(x: unknown) {\n  await x;\n}')).toEqual([
      expect.stringMatching(/:1: .*is asynchronous/),
      expect.stringMatching(/:2: .*awaits/),
    ]);
  });

  test('the converter of instants may not read the clock either', () => {
    expect(
      planted('const t = new Date(5).getTime() + Date.parse("x") + Date.now();', 'agent/base/time.ts'),
    ).toHaveLength(1);
    expect(planted('const t = new Date();', 'agent/base/time.ts')).toHaveLength(1);
    expect(planted('const t = new Date(5);', 'agent/base/units.ts')).toHaveLength(1);
  });
});

test.each([
  'export interface Source { start(): Promise<void>; }',
  'const process = (x: number) => x; export const y = process(1);',
  'export const x = { process: 1, Date: 2 }.process;',
  'export function f(module: number) { let sum = 0; sum += module; return sum; }',
  '// Date.now()\nexport const note = "Math.random";',
])('pure: %s', (text) => {
  expect(planted(text)).toEqual([]);
});

test('edges may', () => {
  expect(planted('const t = Date.now();', 'agent/sources/a.ts')).toEqual([]);
});
