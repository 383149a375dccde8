// Goal: whoever writes a record by hand is told the key and what is wrong with it, in one line of plain words.
import { expect, test } from 'vitest';
import { design } from '../../../agent/cycle/design.ts';

const RECORD = {
  refrigerant: 'R134a',
  arrangement: 'simple',
  evaporator: { T: 278.15 },
  condenser: { T: 310.15 },
  compressors: [{ isentropic_efficiency: 0.8 }],
  capacity: 1e6,
};

function said(change: object): string {
  const answer = design({ ...RECORD, ...change });
  return answer.ok ? 'accepted' : answer.fault.message;
}

test('the unchanged record is accepted', () => {
  expect(said({})).toBe('accepted');
});

test.each([
  ['a slip in a word', { arrangement: 'simpel' }, /^arrangement: .*"simple"/],
  ['an efficiency in per cent', { compressors: [{ isentropic_efficiency: 80 }] }, /^compressors\[0\]\.isentropic_eff/],
  ['two at once', { arrangement: 'simpel', capacity: -1 }, /^arrangement: .*; capacity: /],
  ['an unknown key', { refrigerent: 'R134a' }, /refrigerent/],
])('%s', (_what, change, message) => {
  expect(said(change)).toMatch(message);
  expect(said(change)).toMatch(/^[\x20-\x7e]+$/);
});

test('a record that is none', () => {
  const answer = design([]);
  expect(answer.ok ? '' : answer.fault.message).toMatch(/^Invalid input: expected object/);
});
