// Goal: whoever types a wrong verb is led to the right one, and every verb of the help answers --help and is told of
// in the README.
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

const MAIN = new URL('../../../agent/main.ts', import.meta.url).pathname;
const README = readFileSync(new URL('../../../README.md', import.meta.url), 'utf8');

function tonhour(...args: string[]) {
  const { status, stdout, stderr } = spawnSync(process.execPath, [MAIN, ...args], { encoding: 'utf8', input: '' });
  return { status, stdout, stderr };
}

test('a slip in a verb: exit 2, the nearest verb on standard error', () => {
  expect(tonhour('propertys')).toEqual({
    status: 2,
    stdout: '',
    stderr: expect.stringMatching(/nearest is 'properties'\n$/),
  });
  expect(tonhour('frobnicate').stderr).not.toMatch(/nearest/);
});

test('the version', () => {
  const { version } = JSON.parse(readFileSync(new URL('../../../package.json', import.meta.url), 'utf8')) as {
    version: string;
  };
  expect(tonhour('--version')).toEqual({ status: 0, stdout: `tonhour ${version}\n`, stderr: '' });
});

test('every verb of the help has a help of its own that ends in one line end, and a line in the README', () => {
  const verbs = [...tonhour('help').stdout.matchAll(/^ {2}([a-z]+) {2,}[A-Z]/gm)].map(([, verb]) => verb as string);
  expect(verbs).toContain('run');
  for (const verb of verbs) {
    const { status, stdout, stderr } = tonhour(verb, '--help');
    expect([verb, status, stderr]).toEqual([verb, 0, '']);
    expect(stdout).toMatch(new RegExp(`^tonhour ${verb}\\b`));
    expect(stdout).toMatch(/[^\n]\n$/);
    expect(README).toContain(`| \`${verb}\` |`);
  }
  const told = [...README.matchAll(/^\| `([a-z]+)` \|/gm)].map(([, verb]) => verb as string);
  expect(told.sort()).toEqual(verbs.sort());
});
