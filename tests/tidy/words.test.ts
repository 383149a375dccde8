/**
 * Nothing left behind, nothing that belongs elsewhere. Planted lines are put together here so that this file stays
 * clean itself.
 */
import { expect, test } from 'vitest';
import { show } from './source.ts';
import { TREE } from './tree.ts';
import { checkWords } from './words.ts';

const planted = (text: string, path = 'agent/cycle/a.ts') => show(checkWords([{ path, text }]));
const join = (...parts: string[]) => parts.join('');

test('the tree is clean', () => {
  expect(show(checkWords(TREE))).toEqual([]);
});

test.each([
  [join("read('/", "work/main/x')"), 'a path of one machine'],
  [join('cd /', 'root/x'), 'a path of one machine'],
  [join('cd /home/', 'somebody/x'), 'a path of one machine'],
  [join('https://regis', 'try.example.org/x'), 'a registry host'],
  [join('see the tran', 'script'), 'a source document'],
  [join('a sub', 'agent wrote'), 'how the project is made'],
  [join('written by A', 'I'), 'how the project is made'],
  [join('see domain', '.md section 2'), 'not in the project'],
  [join('// TO', 'DO: later'), 'leaves work behind'],
  [join('// FIX', 'ME'), 'leaves work behind'],
])('planted: %s', (text, message) => {
  expect(planted(`first\n${text}`)).toEqual([expect.stringMatching(new RegExp(`:2: .*${message}`))]);
});

test.each([
  join('test.', "skip('x', () => {})"),
  join('describe.', "only('x', () => {})"),
  join('it.each([1]).', "todo('x')"),
  join('expect(tr', 'ue).toBe(true)'),
  join('expect(', '1).toBe(1)'),
  join('expect(x).toBeLess', 'Than(performance.now() - start)'),
])('planted in a test: %s', (text) => {
  expect(planted(text, 'tests/unit/a.test.ts')).toHaveLength(1);
});

test.each(['config/work/x', "from '../home/x.ts'", 'the main job', 'AIR and FAIL', 'todos'])('clean: %s', (text) => {
  expect(planted(text)).toEqual([]);
});
