/** The known word that somebody most likely meant. */

/** Longest word compared: what is longer is no slip of a key. */
const LENGTH_MAX = 100;

/**
 * Edits (insert, delete, replace, exchange of neighbours) that turn one word into the other: optimal string alignment
 * distance (Damerau 1964, Levenshtein 1966).
 */
export function editDistance(a: string, b: string): number {
  const columns = b.length + 1;
  let [before, above, row] = [new Array<number>(columns), new Array<number>(columns), new Array<number>(columns)];
  for (let j = 0; j < columns; j += 1) above[j] = j;
  for (let i = 1; i <= a.length; i += 1) {
    row[0] = i;
    for (let j = 1; j < columns; j += 1) {
      const differs = a[i - 1] === b[j - 1] ? 0 : 1;
      let least = Math.min((above[j] as number) + 1, (row[j - 1] as number) + 1, (above[j - 1] as number) + differs);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1])
        least = Math.min(least, (before[j - 2] as number) + 1);
      row[j] = least;
    }
    [before, above, row] = [above, row, before];
  }
  return above[b.length] as number;
}

/**
 * The nearest of `known`, or null where none is near enough to be meant: more than a third of the word, and more than
 * two edits, away.
 */
export function nearest(word: string, known: readonly string[]): string | null {
  if (word.length > LENGTH_MAX) return null;
  const given = plain(word);
  let best: string | null = null;
  let bestDistance = Number.POSITIVE_INFINITY;
  for (const candidate of known) {
    const distance = editDistance(given, plain(candidate));
    if (distance < bestDistance) [best, bestDistance] = [candidate, distance];
  }
  if (bestDistance <= Math.max(2, Math.floor(word.length / 3))) return best;
  for (const candidate of known) if (begins(given, plain(candidate))) return candidate;
  return null;
}

/** A word cut short or drawn out: `user` for `username`. */
function begins(a: string, b: string): boolean {
  return Math.min(a.length, b.length) >= 4 && a !== b && (a.startsWith(b) || b.startsWith(a));
}

/** Capitals and the hyphens of other habits cost nothing. */
function plain(word: string): string {
  return word.toLowerCase().replaceAll('-', '_').replaceAll(' ', '_');
}
