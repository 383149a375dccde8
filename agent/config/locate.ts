/** Where a key or value of the site stands in its file. */
import { type Document, isMap, isNode, isPair, isScalar, isSeq, type LineCounter, type Node, type Pair } from 'yaml';

type Path = readonly (string | number)[];

/**
 * Line (from 1) of the key or value at `path`; of the innermost part of the path that the file has where it has not
 * all of it.
 */
export function lineOf(document: Document, counter: LineCounter, path: Path, at: 'key' | 'value'): number {
  let node: unknown = document.contents;
  let offset = startOf(node) ?? 0;
  for (const [index, part] of path.entries()) {
    const last = index === path.length - 1;
    if (isMap(node)) {
      const pair = node.items.find((item) => keyText(item) === String(part));
      if (pair === undefined) break;
      const value = startOf(pair.value);
      const key = startOf(pair.key);
      // A group begins a line below its key; people look for the key.
      const useKey = (last && at === 'key') || !isScalar(pair.value) || value === null;
      offset = (useKey ? key : value) ?? offset;
      node = pair.value;
    } else if (isSeq(node) && typeof part === 'number') {
      const item = node.items[part];
      if (item === undefined) break;
      node = item;
      offset = startOf(item) ?? offset;
    } else break; // An alias is not followed: what is wrong with one use of an anchor may be right at another.
  }
  return counter.linePos(offset).line;
}

function keyText(pair: Pair): string {
  return isScalar(pair.key) ? String(pair.key.value) : String(pair.key);
}

function startOf(node: unknown): number | null {
  if (isPair(node)) return startOf(node.key);
  return isNode(node) ? ((node as Node).range?.[0] ?? null) : null;
}
