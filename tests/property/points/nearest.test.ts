/** One slip of the finger in a known word is always told back as that word. */
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { UNITS } from '../../../agent/base/units.ts';
import { POINTS } from '../../../agent/points/dictionary.ts';
import { knownKeys } from '../../../agent/site/known-keys.ts';
import { editDistance, nearest } from '../../../agent/site/nearest.ts';
import { siteSchema } from '../../../agent/site/schema.ts';

const WORDS = [
  ...Object.keys(POINTS),
  ...knownKeys(siteSchema, ['chillers', 0, 'machine']),
  ...knownKeys(siteSchema, ['chillers', 0, 'running']),
];

/** One edit of a word: a letter left out, put in, replaced, or two neighbours exchanged. */
const slips = (word: string): fc.Arbitrary<string> =>
  fc
    .tuple(fc.nat(word.length - 1), fc.constantFrom(...'abcdefghijklmnopqrstuvwxyz_'), fc.nat(3))
    .map(([at, letter, kind]) => {
      if (kind === 0) return word.slice(0, at) + word.slice(at + 1);
      if (kind === 1) return word.slice(0, at) + letter + word.slice(at);
      if (kind === 2) return word.slice(0, at) + letter + word.slice(at + 1);
      return word.slice(0, at) + (word[at + 1] ?? '') + word[at] + word.slice(at + 2);
    });

test('a point or key with one slip finds its word, or one as near', () => {
  fc.assert(
    fc.property(
      fc.constantFrom(...WORDS).chain((word) => fc.tuple(fc.constant(word), slips(word))),
      ([word, slip]) => {
        const found = nearest(slip, WORDS);
        expect(found).not.toBeNull();
        // Two known words can be as near as each other (condenser_water, condenser.water...): then either will do.
        expect(editDistance(slip, found as string)).toBeLessThanOrEqual(Math.max(1, editDistance(slip, word)));
      },
    ),
    { numRuns: 2000 },
  );
});

test('the distance is a distance: zero only to itself, the same both ways, never more than the longer word', () => {
  const words = fc.string({ maxLength: 12, unit: fc.constantFrom('a', 'b', 'c') });
  fc.assert(
    fc.property(words, words, (a, b) => {
      const distance = editDistance(a, b);
      expect(distance === 0).toBe(a === b);
      expect(distance).toBe(editDistance(b, a));
      expect(distance).toBeLessThanOrEqual(Math.max(a.length, b.length));
      expect(distance).toBeGreaterThanOrEqual(Math.abs(a.length - b.length));
    }),
    { numRuns: 2000 },
  );
});

test.each([
  ['ca', 'abc', 3],
  ['kitten', 'sitting', 3],
  ['ab', 'ba', 1],
])('%s and %s are %i edits apart (textbook examples, from memory)', (a, b, distance) => {
  expect(editDistance(a, b)).toBe(distance);
});

test('nothing near is no suggestion', () => {
  expect(nearest('frobnicate', Object.keys(UNITS))).toBeNull();
  expect(nearest('x'.repeat(1000), WORDS)).toBeNull();
});
