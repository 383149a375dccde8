/** Pauses between tries: they grow, have an end, and are spread. */
import { expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { backoffMs } from '../../../agent/sinks/waiting.ts';

test('the pause doubles up to its bound and is spread over its upper half', () => {
  const longest = Array.from({ length: 12 }, (_, attempts) => backoffMs(attempts, LIMITS, () => 1));
  expect(longest.slice(0, 4)).toEqual([1, 2, 4, 8].map((times) => times * LIMITS.backoff_ms_min));
  expect(longest.at(-1)).toBe(LIMITS.backoff_ms_max);
  longest.forEach((pause, attempts) => {
    expect(backoffMs(attempts, LIMITS, () => 0)).toBe(pause / 2);
  });
  expect(backoffMs(1e6, LIMITS, () => 1)).toBe(LIMITS.backoff_ms_max);
});
