/** Error codes against their use and their documentation. */
import { expect, test } from 'vitest';
import { ERRORS } from '../../agent/base/errors.ts';
import { checkCodesUsed, checkRunbook, ERROR_TABLE, RUNBOOK, runbook } from './codes.ts';
import { show } from './source.ts';
import { TREE, textOf } from './tree.ts';

const CODES = Object.keys(ERRORS);

test('every error code is used', () => {
  expect(show(checkCodesUsed(TREE, CODES))).toEqual([]);
});

test('every error code is in the runbook, and nothing else is', () => {
  expect(show(checkRunbook(textOf(RUNBOOK), CODES))).toEqual([]);
});

test('every error code says what it means and what to do, in sentences', () => {
  for (const [code, { meaning, action }] of Object.entries(ERRORS)) {
    expect(code).toMatch(/^[a-z][a-z0-9_]*$/);
    expect(meaning, code).toMatch(/^[A-Z0-9].*\.$/);
    expect(action, code).toMatch(/^[A-Z0-9`].*\.$/);
  }
});

test('a planted code that nothing uses', () => {
  const files = [
    { path: ERROR_TABLE, text: 'export const ERRORS = {\n  used: {},\n  unused: {},\n};' },
    { path: 'agent/cycle/a.ts', text: "fail('used', 'x'); // 'unused'" },
    { path: 'tests/unit/a.test.ts', text: "fail('unused', 'x');" },
  ];
  expect(show(checkCodesUsed(files, ['used', 'unused']))).toEqual([
    `${ERROR_TABLE}:3: the error code 'unused' is used nowhere`,
  ]);
});

test('a planted gap in the runbook, both ways', () => {
  const text = runbook({ here: { meaning: 'A.', action: 'B.' }, gone: { meaning: 'C.', action: 'D.' } });
  expect(checkRunbook(text, ['here', 'gone'])).toEqual([]);
  expect(show(checkRunbook(text, ['here', 'new']))).toEqual([
    expect.stringContaining("'new' is not in the runbook"),
    expect.stringContaining("tells of 'gone'"),
  ]);
});
