/** What was wrong with an export, by kind: counted all, the first lines of each kind kept. */

const LINES_KEPT = 10;
const KINDS_MAX = 50;
const OTHER = 'other';

export interface Trouble {
  readonly what: string;
  readonly count: number;
  /** The first lines of it, from 1. */
  readonly lines: readonly number[];
}

export class Troubles {
  readonly #kinds = new Map<string, { count: number; lines: number[] }>();

  add(what: string, line: number): void {
    const key = this.#kinds.has(what) || this.#kinds.size < KINDS_MAX ? what : OTHER;
    let kind = this.#kinds.get(key);
    if (kind === undefined) {
      kind = { count: 0, lines: [] };
      this.#kinds.set(key, kind);
    }
    kind.count += 1;
    if (kind.lines.length < LINES_KEPT && kind.lines.at(-1) !== line) kind.lines.push(line);
  }

  get count(): number {
    let count = 0;
    for (const kind of this.#kinds.values()) count += kind.count;
    return count;
  }

  /** Most frequent first. */
  list(): Trouble[] {
    return [...this.#kinds].map(([what, kind]) => ({ what, ...kind })).sort((a, b) => b.count - a.count);
  }
}
