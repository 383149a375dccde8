/** The import table holds on the tree, and the check finds what breaks it. */
import { describe, expect, test } from 'vitest';
import { checkImports, roomOf } from './imports.ts';
import table from './rooms.json' with { type: 'json' };
import { importsOf, show } from './source.ts';
import { TREE } from './tree.ts';

const planted = (path: string, text: string) =>
  show(checkImports([{ path, text }, ...TARGETS.filter((one) => one.path !== path)], table));
const TARGETS = [
  'agent/base/units.ts',
  'agent/points/types.ts',
  'agent/cycle/solve.ts',
  'agent/minute.ts',
  'agent/agent.ts',
  'agent/main.ts',
  'agent/sources/modbus/port.ts',
  'agent/history/store.ts',
  'agent/web/server.ts',
  'agent/web/page/units.js',
  'agent/plant/process.ts',
  'agent/commands/run.ts',
  'agent/refrigerant/data/r134a.json',
  'tests/unit/help.ts',
].map((path) => ({ path, text: '' }));

test('the tree keeps the table', () => {
  expect(show(checkImports(TREE, table))).toEqual([]);
});

test('the check reads the rooms that are there', () => {
  const rooms = new Set(TREE.map(({ path }) => roomOf(path)).filter((room) => room !== null));
  for (const room of ['base', 'points', 'refrigerant', 'cycle', 'sources', 'web', 'page', 'plant'])
    expect(rooms).toContain(room);
  expect(roomOf('agent/pace.ts')).toBe('agent');
});

describe('planted breaches', () => {
  test.each([
    ['agent/base/a.ts', "import { x } from '../points/types.ts';", "'base' may not import 'points'"],
    ['agent/points/a.ts', "import type { X } from '../cycle/solve.ts';", "'points' may not import 'cycle'"],
    ['agent/cycle/a.ts', "import fs from 'node:fs';", "the pure room 'cycle' may not import node:fs"],
    ['agent/cycle/a.ts', "import YAML from 'yaml';", "'cycle' may not import the package 'yaml'"],
    ['agent/cycle/a.ts', "const x = await import('../minute.ts');", "'cycle' may not import 'minute'"],
    ['agent/cycle/a.ts', "type X = import('../minute.ts').X;", "'cycle' may not import 'minute'"],
    ['agent/minute.ts', "export { x } from './history/store.ts';", "'minute' may not import 'history'"],
    ['agent/history/a.ts', "import { x } from '../sources/modbus/port.ts';", "'history' may not import 'sources'"],
    ['agent/web/a.ts', "import type { X } from '../history/store.ts';", "'web' may not import 'history'"],
    ['agent/web/a.ts', "import { spawn } from 'node:child_process';", "'web' may not import node:child_process"],
    ['agent/web/page/a.js', "import { x } from '../server.ts';", "'page' may not import 'web'"],
    ['agent/web/page/a.js', "import { x } from '../../base/units.ts';", "'page' may not import 'base'"],
    ['agent/plant/a.ts', "import { x } from '../cycle/solve.ts';", "'plant' may not import 'cycle'"],
    [
      'agent/plant/a.ts',
      "import x from '../refrigerant/data/r134a.json' with { type: 'json' };",
      "'plant' may not import",
    ],
    ['agent/sources/a.ts', "import { x } from '../plant/process.ts';", "'sources' may not import 'plant'"],
    ['agent/sources/a.ts', "import mqtt from 'mqtt';", "'sources' may not import the package 'mqtt'"],
    ['agent/agent.ts', "import { x } from './plant/process.ts';", "'agent' may not import 'plant'"],
    ['agent/main.ts', "import { x } from './history/store.ts';", "'main' may not import 'history'"],
    ['nodes/solve.js', "import { x } from '../agent/history/store.ts';", "'nodes' may not import 'history'"],
    ['nodes/solve.js', "const x = require('../agent/agent.ts');", "'nodes' may not import 'agent'"],
    ['agent/cycle/a.ts', "import { x } from '../../tests/unit/help.ts';", 'outside the rooms'],
    ['agent/cycle/a.ts', "import { x } from './gone.ts';", 'which does not exist'],
    ['agent/cellar/a.ts', 'export const x = 1;', "the room 'cellar' is not in the import table"],
  ])('%s: %s', (path, text, message) => {
    expect(planted(path, text)).toEqual([expect.stringContaining(message)]);
  });

  test.each([
    ['agent/minute.ts', "import { x } from './cycle/solve.ts'; import { z } from 'zod';"],
    ['agent/web/a.ts', "import { x } from './page/units.js'; import fastify from 'fastify'; import fs from 'node:fs';"],
    ['agent/commands/a.ts', "import { x } from '../plant/process.ts'; import { y } from '../agent.ts';"],
    ['agent/cycle/a.ts', "// import fs from 'node:fs'\nconst text = \"import fs from 'node:fs'\";"],
    ['tests/unit/a.test.ts', "import { x } from '../../agent/plant/process.ts'; import fs from 'node:fs';"],
  ])('%s may: %s', (path, text) => {
    expect(planted(path, text)).toEqual([]);
  });
});

test('every way to import is seen, with its line', () => {
  const text = [
    "import a from './a.ts';",
    "import type { B } from './b.ts';",
    "import { type C } from './c.ts';",
    "export * from './d.ts';",
    "const e = () => import('./e.ts');",
    "let f: import('./f.ts').F;",
    "import './g.ts';",
  ].join('\n');
  expect(importsOf({ path: 'x.ts', text }).map(({ specifier, kind, line }) => [specifier, kind, line])).toEqual([
    ['./a.ts', 'value', 1],
    ['./b.ts', 'type', 2],
    ['./c.ts', 'type', 3],
    ['./d.ts', 're-export', 4],
    ['./e.ts', 'dynamic', 5],
    ['./f.ts', 'type', 6],
    ['./g.ts', 'value', 7],
  ]);
});

test('a file that does not parse is an error, never an empty tree', () => {
  expect(() => importsOf({ path: 'x.ts', text: 'import {{ from' })).toThrow('x.ts');
});
