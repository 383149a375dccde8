/**
 * Completing an installation that npm made under an old Node: only there, only where something is missing, by the same
 * npm.
 */
import { spawnSync } from 'node:child_process';
import { chmodSync, cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';

const SCRIPT = new URL('../../complete.cjs', import.meta.url).pathname;
let folder = '';

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tonhour-complete-'));
  mkdirSync(join(folder, 'tests'));
  cpSync(SCRIPT, join(folder, 'tests/complete.cjs'));
  writeFileSync(join(folder, 'old.cjs'), "Object.defineProperty(process.versions, 'node', { value: '18.20.4' });\n");
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** A packaged Node that writes down its calls; the probe ends as told. */
function packaged({ probe, install }: { readonly probe: number; readonly install: number }): void {
  const bin = join(folder, 'node_modules', `node-${process.platform}-${process.arch}`, 'bin');
  mkdirSync(bin, { recursive: true });
  writeFileSync(
    join(bin, 'node'),
    `#!/bin/sh\necho "$1 $2" >> "${folder}/calls"\ncase "$1" in --input-type=module) exit ${probe};; *) exit ${install};; esac\n`,
  );
  chmodSync(join(bin, 'node'), 0o755);
}

function run({ old }: { readonly old: boolean }): {
  readonly status: number | null;
  readonly calls: readonly string[];
} {
  const args = [...(old ? ['--require', join(folder, 'old.cjs')] : []), join(folder, 'tests/complete.cjs')];
  const { status } = spawnSync(process.execPath, args, { env: { ...process.env, npm_execpath: '/npm-cli.js' } });
  const file = join(folder, 'calls');
  return { status, calls: existsSync(file) ? readFileSync(file, 'utf8').trim().split('\n') : [] };
}

test('installs what is missing under an old Node, and passes on its failure', () => {
  packaged({ probe: 1, install: 0 });
  expect(run({ old: true })).toEqual({ status: 0, calls: ['--input-type=module -e', '/npm-cli.js install'] });
  packaged({ probe: 1, install: 3 });
  expect(run({ old: true }).status).toBe(3);
});

test('does nothing where nothing is missing, or where npm ran under a Node that is new enough', () => {
  packaged({ probe: 0, install: 9 });
  expect(run({ old: true })).toEqual({ status: 0, calls: ['--input-type=module -e'] });
  rmSync(join(folder, 'calls'));
  packaged({ probe: 1, install: 9 });
  expect(run({ old: false })).toEqual({ status: 0, calls: [] });
});
