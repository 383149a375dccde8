/**
 * Recorded loops of real plants with the labels of their authors (tests/oracle/loops). Ten of the 19 were in view when
 * the rules were made: tests/proof/hunting-loops.ts counts both parts.
 */
import { expect, test } from 'vitest';
import { balancedAccuracy, judgedLoops } from './recorded.ts';

const loops = judgedLoops();

test('all 19 loops and 39 files are judged', () => {
  expect(loops).toHaveLength(19);
  expect(loops.reduce((sum, { files }) => sum + files.length, 0)).toBe(39);
});

test('a valve that does not stick is not accused', () => {
  for (const { loop, label, sticks } of loops) if (label === 'not_sticking') expect(sticks, loop).toBe(0);
});

test('sticking valves: better than the guess that none sticks (0.5)', () => {
  expect(balancedAccuracy(loops).balanced).toBeGreaterThan(0.65);
});

test('loop 2 swings about 98 times across its set point in 7500 s in every file (counted): a period of 153 s', () => {
  const [loop] = loops.filter(({ number }) => number === 2);
  expect(loop?.files).toHaveLength(9);
  for (const { verdict } of loop?.files ?? []) {
    expect(verdict.verdict).toBe('hunting');
    expect(Math.abs((verdict.period_s?.value ?? 0) - 153)).toBeLessThan(5);
    expect(verdict.sticking.verdict).toBe('not_sticking');
  }
});
