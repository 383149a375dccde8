import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { Backoff, backoffMs } from '../../../agent/sources/backoff.ts';
import { seeded } from './fake-time.ts';

const { backoff_ms_min: least, backoff_ms_max: most } = LIMITS;

describe('the pause', () => {
  test('stays between the bounds for any number of failures and any draw', () => {
    const random = seeded(9);
    for (const failures of [1, 2, 3, 7, 8, 20, 1000, Number.MAX_SAFE_INTEGER]) {
      for (const draw of [0, random(), random(), 1 - 2 ** -53]) {
        const pause = backoffMs(failures, () => draw);
        expect(pause).toBeGreaterThanOrEqual(least);
        expect(pause).toBeLessThanOrEqual(most);
      }
    }
  });

  test('doubles with each failure up to the bound', () => {
    const highest = [1, 2, 3, 4].map((failures) => Math.round(backoffMs(failures, () => 1)));
    expect(highest).toEqual([2 * least, 4 * least, 8 * least, 16 * least]);
    expect(backoffMs(50, () => 1)).toBe(most);
  });

  test('is spread over the upper half', () => {
    expect([backoffMs(3, () => 0), backoffMs(3, () => 0.5), backoffMs(3, () => 1)]).toEqual([2000, 3000, 4000]);
  });
});

describe('failures in a row', () => {
  test('a success ends the row: the next failure costs the first pause again', () => {
    const backoff = new Backoff(() => 0);
    for (let i = 0; i < 10; i += 1) backoff.failed(0, 'controller_silent', 'no reply');
    backoff.succeeded();
    expect(backoff.waiting(0)).toBeNull();
    expect(backoff.failed(1000, 'controller_silent', 'no reply').retryAt).toBe(1000 + least);
  });

  test('waits until the moment itself, and says why', () => {
    const backoff = new Backoff(() => 0);
    const trouble = backoff.failed(0, 'controller_unreachable', 'connection refused');
    expect(backoff.waiting(least - 1)).toEqual(trouble);
    expect(backoff.waiting(least)).toBeNull();
    expect(trouble).toEqual({ code: 'controller_unreachable', reason: 'connection refused', retryAt: least });
  });
});
