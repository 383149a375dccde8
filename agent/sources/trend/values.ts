/** A cell of an export as a number, or why it is none. */
import { pointDefinition } from '../../points/dictionary.ts';
import { unitOfWord } from '../../site/header-units.ts';
import type { TrendPoint } from '../../site/trend-points.ts';

/** `missing`: nothing was measured, as the map says; `text`: a word that the map does not know. */
export type ReadValue =
  | { readonly kind: 'number'; readonly value: number }
  | { readonly kind: 'missing' }
  | { readonly kind: 'text' };

export interface ValueOptions {
  readonly decimal: 'point' | 'comma';
  /** Further words for a missing value, any case. */
  readonly missing: readonly string[];
}

/** Words that exports have where a state is on or off, and where nothing was measured. Common practice, no source. */
const STATES: Readonly<Record<string, number>> = {
  on: 1,
  off: 0,
  true: 1,
  false: 0,
  yes: 1,
  no: 0,
  running: 1,
  stopped: 0,
  run: 1,
  stop: 0,
  active: 1,
  inactive: 0,
  enabled: 1,
  disabled: 0,
};
const NOTHING: readonly string[] = ['', 'no data', 'nodata', 'nan', 'null', 'n/a', 'na', '-', '--', '---', 'none'];

/** Digits in groups of three, apart by what the other kind of decimal sign, a blank or an apostrophe is. */
const GROUPED = {
  point: /^[-+]?\d{1,3}(?:[,'\u2019\u00a0\u202f ]\d{3})+(?:\.\d+)?$/,
  comma: /^[-+]?\d{1,3}(?:[.'\u2019\u00a0\u202f ]\d{3})+(?:,\d+)?$/,
} as const;
const GROUPS = { point: /[,'\u2019\u00a0\u202f ]/g, comma: /[.'\u2019\u00a0\u202f ]/g } as const;
const PLAIN = {
  point: /^[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?$/,
  comma: /^[-+]?(?:\d+,?\d*|,\d+)(?:[eE][-+]?\d+)?$/,
};
const WITH_UNIT = /^([-+]?[\d.,]+(?:[eE][-+]?\d+)?)\s*([^\d\s].*)$/;

export class Values {
  readonly #decimal: 'point' | 'comma';
  readonly #missing: ReadonlySet<string>;

  constructor({ decimal, missing }: ValueOptions) {
    this.#decimal = decimal;
    this.#missing = new Set([...NOTHING, ...missing].map((word) => word.trim().toLowerCase()));
  }

  read(cell: string, point: TrendPoint): ReadValue {
    // First: a number that the map gives as a word for nothing is none.
    const word = cell.toLowerCase();
    if (this.#missing.has(word)) return { kind: 'missing' };
    const own = point.states?.[word];
    if (own !== undefined) return { kind: 'number', value: own };
    const value = this.#number(cell);
    if (value !== null) return { kind: 'number', value };
    const { dimension } = pointDefinition(point.spec.name);
    const state = STATES[word];
    if (dimension === 'state' && state !== undefined) return { kind: 'number', value: state };
    const parts = WITH_UNIT.exec(cell);
    if (parts === null) return { kind: 'text' };
    // The unit behind a number must be the one that the point is read in.
    const behind = this.#number(parts[1] as string);
    const same = unitOfWord(parts[2] as string, dimension) === point.spec.unit;
    return behind !== null && same ? { kind: 'number', value: behind } : { kind: 'text' };
  }

  #number(cell: string): number | null {
    const kind = this.#decimal;
    let text = cell;
    if (!PLAIN[kind].test(text)) {
      if (!GROUPED[kind].test(text)) return null;
      text = text.replace(GROUPS[kind], '');
    }
    const value = Number(kind === 'comma' ? text.replace(',', '.') : text);
    return Number.isFinite(value) ? value : null;
  }
}
