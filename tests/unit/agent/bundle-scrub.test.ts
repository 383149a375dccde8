/** The last net below a support bundle: known words, and what has the form of an address, by itself. */
import { expect, test } from 'vitest';
import { scrubber } from '../../../agent/bundle-scrub.ts';

const scrub = scrubber({ secrets: ['pa$$'], words: ['Ann', 'quay', 'tonhour', 'x'] });
/** Where people of a machine live on it. */
const HOME = ['', 'home'].join('/');

test.each([
  ['Ann and ANN, but not Annual', '[redacted] and [redacted], but not Annual'],
  ['the password is apa$$b', 'the password is a[redacted]b'],
  ['tonhour goes on; x too', 'tonhour goes on; x too'],
  ['at 10.1.2.3:502, version 24.21.0', 'at [address]:502, version 24.21.0'],
  ['mqtts://broker.example:8883/x is away', 'mqtts://[address] is away'],
  ['to someone@quay.example.', 'to [address]'],
  ['2026-07-01T12:34:56+01:00 and 12:34', '2026-07-01T12:34:56+01:00 and 12:34'],
  ['on ::1 and 2001:db8::7, card 00:1a:2b:3c:4d:5e', 'on [address] and [address], card [address]'],
  [`${HOME}/ann/site.yaml`, `${HOME}/[redacted]/site.yaml`],
])('%s', (text, wanted) => expect(scrub(text)).toBe(wanted));

test('a word is also taken out where it stands within JSON', () => {
  const quoted = scrubber({ secrets: [], words: ['the "old" one'] });
  expect(quoted(JSON.stringify({ msg: 'the "old" one is off' }))).toBe('{"msg":"[redacted] is off"}');
});
