/** No import circle, no file out of reach, no barrel. */
import { expect, test } from 'vitest';
import { checkBarrels, checkCycles, checkReach } from './graph.ts';
import table from './rooms.json' with { type: 'json' };
import { show } from './source.ts';
import { TREE } from './tree.ts';

test('the tree has no import circle', () => {
  expect(show(checkCycles(TREE))).toEqual([]);
});

test('every file of the tree is reached from an entry', () => {
  expect(show(checkReach(TREE, table))).toEqual([]);
});

test('every entry of the table has its reason and its files', () => {
  for (const { path, reason } of table.entries) expect(reason, path).not.toBe('');
});

test('the tree has no re-exports', () => {
  expect(show(checkBarrels(TREE))).toEqual([]);
});

test('a planted circle of three is named once, types included', () => {
  const files = [
    { path: 'agent/cycle/a.ts', text: "import { b } from './b.ts';" },
    { path: 'agent/cycle/b.ts', text: "import type { C } from './c.ts';" },
    { path: 'agent/cycle/c.ts', text: "type A = import('./a.ts').A;" },
    { path: 'agent/cycle/d.ts', text: "import { a } from './a.ts';" },
  ];
  expect(show(checkCycles(files))).toEqual([
    'agent/cycle/a.ts:1: import circle: agent/cycle/a.ts -> agent/cycle/b.ts -> agent/cycle/c.ts -> agent/cycle/a.ts',
  ]);
});

test('a file that imports itself is a circle', () => {
  expect(checkCycles([{ path: 'a.ts', text: "import { b } from './a.ts';" }])).toHaveLength(1);
});

test('a planted orphan is found, and what it alone reaches', () => {
  const files = [
    { path: 'agent/main.ts', text: "import { a } from './base/a.ts';" },
    { path: 'agent/base/a.ts', text: '' },
    { path: 'agent/base/orphan.ts', text: "import { b } from './behind.ts';" },
    { path: 'agent/base/behind.ts', text: "import { b } from './orphan.ts';" },
    { path: 'tests/unit/a.test.ts', text: "import { b } from '../../agent/base/orphan.ts';" },
  ];
  expect(checkReach(files, table).map(({ path }) => path)).toEqual(['agent/base/orphan.ts', 'agent/base/behind.ts']);
});

test.each(["export * from './b.ts';", "export { b } from './b.ts';", "export type { B } from './b.ts';"])(
  'a planted barrel is found: %s',
  (text) => {
    expect(checkBarrels([{ path: 'agent/base/a.ts', text }])).toHaveLength(1);
  },
);

test('exporting what the file defines is no barrel', () => {
  expect(checkBarrels([{ path: 'agent/base/a.ts', text: 'const a = 1;\nexport { a };' }])).toEqual([]);
});
