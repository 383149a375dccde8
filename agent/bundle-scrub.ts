/**
 * Takes out of a text what must not leave a site: words that are known to be of it, and everything that has the form of
 * an address. A last net below files that were made without such things to begin with.
 */
const REDACTED = '[redacted]';
const ADDRESS = '[address]';

/** Words of the program itself, which people also give as names. */
const OWN = new Set(['tonhour', 'history', 'localhost', 'root', 'agent', 'chiller', 'node-red', 'main', 'plant']);
const WORD_MIN = 3;

export interface Private {
  /** Replaced wherever they stand, also within words. */
  readonly secrets: readonly string[];
  /** Replaced as whole words, in any case of letters. */
  readonly words: readonly string[];
}

export function scrubber({ secrets, words }: Private): (text: string) => string {
  const long = (text: string): boolean => text.trim().length >= WORD_MIN;
  const inside = secrets.filter(long).flatMap(forms);
  const whole = words.filter((word) => long(word) && !OWN.has(word.toLowerCase())).flatMap(forms);
  const patterns: [RegExp, string | ((found: string) => string)][] = [];
  // Longer ones first: a word may be part of another.
  if (inside.length > 0) patterns.push([new RegExp(alternatives(inside), 'g'), REDACTED]);
  patterns.push(...ADDRESSES);
  if (whole.length > 0)
    patterns.push([new RegExp(`(?<![\\p{L}\\p{N}])(?:${alternatives(whole)})(?![\\p{L}\\p{N}])`, 'giu'), REDACTED]);
  return (text) => patterns.reduce((left, [pattern, by]) => left.replace(pattern, by as string), text);
}

/** As it is, and as it stands within JSON. */
function forms(text: string): string[] {
  const plain = text.trim();
  const escaped = JSON.stringify(plain).slice(1, -1);
  return escaped === plain ? [plain] : [plain, escaped];
}

function alternatives(texts: readonly string[]): string {
  const unique = [...new Set(texts)].sort((a, b) => b.length - a.length);
  return unique.map((text) => text.replace(/[.*+?^${}()|[\]\\/]/g, '\\$&')).join('|');
}

const ADDRESSES: readonly [RegExp, string | ((found: string) => string)][] = [
  // scheme://host:port/path
  [/\b([a-z][a-z0-9+.-]*):\/\/[^\s"'<>)\]}]+/gi, (found) => `${found.slice(0, found.indexOf('://'))}://${ADDRESS}`],
  [/[^\s"'<>@,;:()[\]{}]+@[^\s"'<>@,;:()[\]{}]+/g, ADDRESS],
  [/(?<![\w.])\d{1,3}(?:\.\d{1,3}){3}(?![\w.]*\d)/g, ADDRESS],
  // IPv6, and the addresses of network cards; a time of the day has two colons.
  [
    /(?<![\w:])(?:[0-9a-f]{0,4}:){2,7}[0-9a-f]{0,4}(?![\w:])/gi,
    (found) => (found.includes('::') || found.split(':').length > 4 ? ADDRESS : found),
  ],
  [/\/(?:home|Users)\/[^/\s"']+/g, `/home/${REDACTED}`],
];
