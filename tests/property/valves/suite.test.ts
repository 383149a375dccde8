/**
 * Synthetic loops with a known answer. The seed was drawn from the system's random source after the rules had been
 * frozen; tests/proof/hunting.ts runs the same with a hundred cases a class.
 */
import { describe, expect, test } from 'vitest';
import { scoreSuite } from '../../unit/valves/score.ts';

const EVALUATION_SEED = 4104298363;

describe('with position feedback', () => {
  const score = scoreSuite(EVALUATION_SEED, 10, { position: true });
  test('hunting is found and nothing else is called so', () => {
    expect(score.recall).toBeGreaterThanOrEqual(0.9);
    expect(score.precision).toBeGreaterThanOrEqual(0.9);
  });
  test.each(score.classes)('$name: nine in ten right', ({ right, cases }) => {
    expect(right / cases).toBeGreaterThanOrEqual(0.9);
  });
  test.each(Object.entries(score.causes))('%s: nine in ten named, nine in ten of those named so are', (_, cause) => {
    expect(cause.recall).toBeGreaterThanOrEqual(0.9);
    expect(cause.precision).toBeGreaterThanOrEqual(0.9);
  });
});

test('without position feedback friction and a coarse positioner look alike, tuning and drive do not', () => {
  const score = scoreSuite(EVALUATION_SEED, 6, { position: false });
  expect(score.recall).toBeGreaterThanOrEqual(0.9);
  expect(score.precision).toBeGreaterThanOrEqual(0.9);
  for (const cause of ['driven', 'tuning', 'tank pressure swing'])
    expect(score.causes[cause]?.recall, cause).toBeGreaterThanOrEqual(0.8);
});
