/**
 * The style check proves itself: the configuration as it is, run by the binary as it is, over a small tree with one
 * planted breach per file. Some linters read nothing and report success; this one must find each breach and nothing
 * else.
 */
import { execFile } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, relative } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { ROOT } from './tree.ts';

/** Path, text, the rule that must speak. */
const BREACHES: readonly (readonly [string, string, string])[] = [
  [
    'agent/cycle/circle-a.ts',
    "import type { B } from './circle-b.ts';\n\nexport type A = B | null;\n",
    'lint/suspicious/noImportCycles',
  ],
  [
    'agent/cycle/circle-b.ts',
    "import type { A } from './circle-a.ts';\n\nexport type B = A | 1;\n",
    'lint/suspicious/noImportCycles',
  ],
  [
    'agent/sources/floating.ts',
    'async function poll(): Promise<void> {}\nexport function go(): void {\n  poll();\n}\n',
    'lint/nursery/noFloatingPromises',
  ],
  [
    'agent/sources/misused.ts',
    "async function poll(): Promise<boolean> {\n  return false;\n}\nexport const text = poll() ? 'yes' : 'no';\n",
    'lint/nursery/noMisusedPromises',
  ],
  ['agent/sources/environment.ts', 'export const host = process.env.HOST;\n', 'lint/style/noProcessEnv'],
  ['agent/sources/console.ts', "console.log('here');\n", 'lint/suspicious/noConsole'],
  ['agent/cycle/clock.ts', 'export const now = () => Date.now();\n', 'lint/style/noRestrictedGlobals'],
  ['agent/minute.ts', 'export const wait = () => setTimeout(() => {}, 1);\n', 'lint/style/noRestrictedGlobals'],
  [
    'agent/base/file.ts',
    "import { readFileSync } from 'node:fs';\n\nexport const read = readFileSync;\n",
    'lint/correctness/noNodejsModules',
  ],
  ['agent/points/any.ts', 'export const free = (x: any) => x;\n', 'lint/suspicious/noExplicitAny'],
  ['agent/points/enum.ts', 'export enum Side {\n  Left = 0,\n}\n', 'lint/style/noEnum'],
  [
    'agent/sources/parameter.ts',
    'export class A {\n  constructor(readonly b: number) {}\n}\n',
    'lint/style/noParameterProperties',
  ],
  ['agent/points/unused.ts', 'const idle = 1;\nexport const busy = 2;\n', 'lint/correctness/noUnusedVariables'],
  [
    'agent/points/type.ts',
    "import { Unit } from '../../tests/unit.ts';\n\nexport const x = (unit: Unit) => unit;\n",
    'lint/style/useImportType',
  ],
  ['agent/points/format.ts', 'export const x   =  "double";\n', 'format'],
  [
    'tests/unit/only.test.ts',
    `import { test } from 'vitest';\n\ntest${'.'}only('x', () => {});\n`,
    'lint/suspicious/noFocusedTests',
  ],
  [
    'tests/unit/skip.test.ts',
    `import { test } from 'vitest';\n\ntest${'.'}skip('x', () => {});\n`,
    'lint/suspicious/noSkippedTests',
  ],
];
const CLEAN: readonly (readonly [string, string])[] = [
  ['agent/cycle/clean.ts', 'export const twice = (x: number) => 2 * x;\n'],
  ['agent/sources/clean.ts', "import { createConnection } from 'node:net';\n\nexport const open = createConnection;\n"],
  ['tests/unit.ts', 'export interface Unit {\n  readonly name: string;\n}\n'],
];

let folder = '';
const found = new Map<string, Set<string>>();

beforeAll(async () => {
  folder = realpathSync(mkdtempSync(join(tmpdir(), 'tonhour-style-')));
  for (const name of ['.biome.json', '.gitignore']) cpSync(join(ROOT, name), join(folder, name));
  for (const [path, text] of [...BREACHES, ...CLEAN]) {
    mkdirSync(dirname(join(folder, path)), { recursive: true });
    writeFileSync(join(folder, path), text);
  }
  const binary = join(ROOT, 'node_modules/@biomejs/biome/bin/biome');
  const output = await new Promise<string>((resolve) => {
    const args = [binary, 'check', '--error-on-warnings', '--reporter=github', '--max-diagnostics=none', '.'];
    execFile(process.execPath, args, { cwd: folder }, (_error, out) => resolve(out));
  });
  for (const line of output.split('\n')) {
    const [, title, file] = /^::\w+ title=([^,]+),file=([^,]+)/.exec(line) ?? [];
    if (title === undefined || file === undefined) continue;
    const path = relative(folder, file);
    found.set(path, (found.get(path) ?? new Set()).add(title));
  }
});

afterAll(() => rmSync(folder, { recursive: true, force: true }));

test.each(BREACHES)('%s', (path, _text, rule) => {
  expect([...(found.get(path) ?? [])]).toContain(rule);
});

test('nothing is said of clean files', () => {
  for (const [path] of CLEAN) expect(found.get(path), path).toBeUndefined();
});
