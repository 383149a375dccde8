/** Documents against the project, and generated documents against what generates them. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import manifest from '../../package.json' with { type: 'json' };
import { checkCommands, checkLinks, checkReadme, checkRoomsTold } from './documents.ts';
import { GENERATED } from './generate.ts';
import { roomOf } from './imports.ts';
import { show } from './source.ts';
import { PATHS, ROOT, TREE, textOf } from './tree.ts';

const verbs = TREE.filter(({ text }) => /^export const command\b/m.test(text))
  .map(({ path }) => /^agent\/commands\/([a-z]+)\.ts$/.exec(path)?.[1])
  .filter((verb) => verb !== undefined);
const known = { scripts: Object.keys(manifest.scripts), verbs };

test('links resolve', () => {
  expect(show(checkLinks(TREE, PATHS))).toEqual([]);
});

test('commands exist', () => {
  expect(show(checkCommands(TREE, known))).toEqual([]);
});

test('the README opens with the job and the two commands', () => {
  expect(show(checkReadme(textOf('README.md')))).toEqual([]);
});

test("the developers' document tells of every room", () => {
  const rooms = new Set(PATHS.map(roomOf).filter((room) => room !== null));
  for (const single of ['main', 'agent', 'launch']) rooms.delete(single);
  expect(show(checkRoomsTold(textOf('DEVELOPERS.md'), [...rooms]))).toEqual([]);
});

test.each(GENERATED)('$path is what its generator makes', ({ path, make }) => {
  expect(readFileSync(join(ROOT, path), 'utf8')).toBe(make());
});

describe('planted', () => {
  const file = (text: string, path = 'docs/a.md') => [{ path, text }];
  test('links to nothing', () => {
    const text =
      'see [b](b.md), [c](../c.md#no-such), ![p](p.png), [ok](../c.md#the-cycle), [web](https://example.org)';
    const files = [...file(text), { path: 'c.md', text: '# The cycle!\n' }];
    expect(show(checkLinks(files, ['docs/a.md', 'c.md']))).toEqual([
      'docs/a.md:1: links to b.md, which does not exist',
      'docs/a.md:1: links to ../c.md#no-such, which does not exist',
      'docs/a.md:1: links to p.png, which does not exist',
    ]);
  });
  test('commands that are not there', () => {
    const text =
      '`npm run lint`\n\n```sh\nnpm ci && npm start\nnpm run -s tonhour -- dance --json\n```\n`npm run -s tonhour -- cycle`';
    const found = checkCommands(file(text), { scripts: ['start', 'tonhour'], verbs: ['cycle'] });
    expect(show(found)).toEqual([
      "docs/a.md:1: npm script 'lint' does not exist",
      "docs/a.md:3: verb 'dance' does not exist",
    ]);
  });
  test('a README that opens with something else', () => {
    const job = Array.from({ length: 40 }, () => 'word').join(' ');
    const commands = '```sh\nnpm ci && npm start\nnpm ci && npm test\n```';
    expect(checkReadme(`# Name\n\n${job}\n\n${commands}`)).toEqual([]);
    expect(checkReadme(`# Name\n\n![picture](x.png)\n\n${job}\n\n${commands}`)).not.toEqual([]);
    expect(checkReadme(`# Name\n\n${job}\n\n${commands.replace('npm test', 'npm tst')}`)).toHaveLength(1);
  });
  test('rooms untold and told in vain', () => {
    expect(show(checkRoomsTold('| `base` | x |\n| `cellar` | x |', ['base', 'cycle']))).toEqual([
      "DEVELOPERS.md:1: does not tell of the room 'cycle'",
      "DEVELOPERS.md:1: tells of the room 'cellar', which does not exist",
    ]);
  });
});
