/**
 * The package as a whole: its top level, its dependencies, its lock file, and that every kind of test is run by
 * somebody.
 */
import { expect, test } from 'vitest';
import manifest from '../../package.json' with { type: 'json' };
import config from '../vitest.config.ts';
import { checkKinds, checkLock, checkManifest, checkPeers, checkTestPlaces, checkTop } from './package.ts';
import { show } from './source.ts';
import { PATHS, TREE, textOf } from './tree.ts';

const kinds = (config.test?.projects ?? []).map((project) => (project as { test: { name: string } }).test.name);

test('the top level holds what belongs there', () => {
  expect(show(checkTop(PATHS))).toEqual([]);
  expect(PATHS).toContain('LICENSE');
});

test('versions are exact and every dependency is used', () => {
  expect(show(checkManifest(manifest, TREE))).toEqual([]);
});

test('the lock file names no host and has every checksum', () => {
  const lock = JSON.parse(textOf('package-lock.json'));
  expect(Object.keys(lock.packages).length).toBeGreaterThan(50);
  expect(show(checkLock(lock))).toEqual([]);
});

test('the packaged Node is one version on every platform', () => {
  expect(new Set(Object.values(manifest.optionalDependencies)).size).toBe(1);
});

test('every kind of test is run, and every test lies under a kind', () => {
  expect(kinds).toContain('tidy');
  expect(show(checkKinds(kinds, [...Object.values(manifest.scripts), textOf('.ci/run')]))).toEqual([]);
  expect(show(checkTestPlaces(PATHS, kinds))).toEqual([]);
});

test('peers from Debian are installed', () => {
  expect(show(checkPeers(TREE, textOf('.ci/run')))).toEqual([]);
});

test('planted: a peer that nobody installs', () => {
  const files = [{ path: 'tests/interop/a.test.ts', text: '/** A peer (Debian: here,\n * gone). */' }];
  expect(show(checkPeers(files, 'apt-get install -y here other; }'))).toEqual([expect.stringContaining("'gone'")]);
});

test('planted: something at the top', () => {
  expect(checkTop(['README.md', '.ci/run', 'agent/main.ts', 'notes.txt', 'src/a.ts']).map(({ path }) => path)).toEqual([
    'notes.txt',
    'src/',
  ]);
});

test('planted: loose versions and idle dependencies', () => {
  const planted = {
    scripts: { x: 'used-tool' },
    dependencies: { loose: '^1.0.0', idle: '1.0.0' },
    devDependencies: { 'used-tool': '1.0.0', rusty: '1.0.0' },
    optionalDependencies: {},
  };
  const files = [{ path: 'agent/a.ts', text: "import 'loose';" }];
  expect(show(checkManifest(planted, files))).toEqual([
    expect.stringContaining("loose has the version '^1.0.0'"),
    expect.stringContaining("nothing in agent/ uses 'idle'"),
    expect.stringContaining("uses 'rusty'"),
  ]);
});

test('planted: a host, a missing checksum', () => {
  const packages = { '': {}, 'node_modules/a': { resolved: 'x' }, 'node_modules/b': { integrity: 'x' } };
  expect(checkLock({ packages })).toHaveLength(2);
});

test('planted: a kind that nobody runs, a test that nobody finds', () => {
  expect(checkKinds(['unit', 'proof'], ['vitest run --project unit'])).toHaveLength(1);
  expect(checkTestPlaces(['tests/unit/a.test.ts', 'tests/else/a.test.ts', 'agent/b.test.ts'], ['unit'])).toHaveLength(
    2,
  );
});
