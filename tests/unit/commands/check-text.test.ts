import { expect, test } from 'vitest';
import { readingText } from '../../../agent/commands/check-text.ts';

test('what is about to be read is said in whole words', () => {
  expect(readingText(11, { samples: 4, every_s: 3 })).toBe('reading 11 points 4 times, 9 s');
  expect(readingText(11, { samples: 1, every_s: 3 })).toBe('reading 11 points once');
  expect(readingText(1, { samples: 2, every_s: 0.2 })).toBe('reading 1 point 2 times, 0.2 s');
});
