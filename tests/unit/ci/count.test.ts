/**
 * The count that ends the continuous integration: failures, files that did not load, skipped tests and broken steps all
 * end it with a failure.
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';

const COUNT = new URL('../../../.ci/count.cjs', import.meta.url).pathname;
let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tonhour-count-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

interface Given {
  readonly passed?: number;
  readonly failed?: number;
  readonly pending?: number;
  readonly todo?: number;
  /** Files that failed to load. */
  readonly unloaded?: number;
}

function report(name: string, { passed = 0, failed = 0, pending = 0, todo = 0, unloaded = 0 }: Given): void {
  const testResults = [
    ...Array.from({ length: failed }, () => ({
      name: 'a.test.ts',
      status: 'failed',
      message: '',
      assertionResults: [{ status: 'failed', fullName: 'some law holds', failureMessages: ['expected 1 to be 2'] }],
    })),
    ...Array.from({ length: unloaded }, () => ({
      name: 'b.test.ts',
      status: 'failed',
      message: 'no such import',
      assertionResults: [],
    })),
  ];
  const counts = { numPassedTests: passed, numFailedTests: failed, numPendingTests: pending, numTodoTests: todo };
  writeFileSync(join(folder, `${name}.json`), JSON.stringify({ ...counts, testResults }));
}

function count(...broken: string[]): { last: string | undefined; status: number | null } {
  const { stdout, status } = spawnSync(process.execPath, [COUNT, folder, ...broken], { encoding: 'utf8' });
  return { last: stdout.trimEnd().split('\n').at(-1), status };
}

test('all runs are added up', () => {
  report('main', { passed: 40 });
  report('interop', { passed: 2 });
  expect(count()).toEqual({ last: '42 passed, 0 failed', status: 0 });
});

test('a failed test fails once, though its step broke as well', () => {
  report('main', { passed: 40, failed: 1 });
  expect(count('tests')).toEqual({ last: '40 passed, 1 failed', status: 1 });
});

test('a file that did not load is a failure', () => {
  report('main', { passed: 40, unloaded: 1 });
  expect(count('tests')).toEqual({ last: '40 passed, 1 failed', status: 1 });
});

test('what failed is named at the end', () => {
  report('main', { passed: 40, failed: 1, unloaded: 1 });
  const { stdout } = spawnSync(process.execPath, [COUNT, folder, 'tests'], { encoding: 'utf8' });
  expect(stdout).toContain('failed: a.test.ts: some law holds: expected 1 to be 2\n');
  expect(stdout).toContain('failed: b.test.ts: no such import\n');
});

test('a step without a report that broke is a failure', () => {
  report('main', { passed: 40 });
  expect(count('types', 'browser')).toEqual({ last: '40 passed, 2 failed', status: 1 });
});

test.each([{ pending: 1 }, { todo: 1 }])('a test that did not run ends it with a failure: %o', (given) => {
  report('main', { passed: 40, ...given });
  expect(count()).toEqual({ last: '40 passed, 0 failed', status: 1 });
});

test('no report at all is no success', () => {
  expect(count()).toEqual({ last: '0 passed, 0 failed', status: 1 });
});
