/**
 * A small registry of the agent's own metrics and their text form: OpenMetrics 1.0 (the exposition format of the CNCF
 * project of that name). Four kinds are enough: counter, gauge, histogram, state set. Numbers come in by calls; `text`
 * is the only output.
 */
import { assert } from '../base/result.ts';

export type Labels = Readonly<Record<string, string>>;

/** What every family has. `name` ends in `unit` where there is one, as the format demands. */
export interface FamilyOptions {
  readonly name: string;
  readonly help: string;
  readonly unit?: string;
  /** Label names; every call gives exactly these. */
  readonly labels?: readonly string[];
}

export interface Counter {
  /** `by` is not negative. */
  add(labels?: Labels, by?: number): void;
  /** For a count that somebody else keeps. */
  set(total: number, labels?: Labels): void;
}

export interface Gauge {
  set(value: number, labels?: Labels): void;
}

export interface Histogram {
  observe(value: number, labels?: Labels): void;
}

export interface StateSet {
  set(state: string, labels?: Labels): void;
}

type Kind = 'counter' | 'gauge' | 'histogram' | 'stateset';

interface Series {
  readonly labels: Labels;
  value: number;
  /** Histograms: observations at or below each bound. */
  readonly buckets: number[];
  count: number;
  state: string;
}

const NAME = /^[a-z][a-z0-9_]*$/;

function escaped(text: string): string {
  return text.replaceAll('\\', '\\\\').replaceAll('\n', '\\n').replaceAll('"', '\\"');
}

export function numberText(value: number): string {
  if (Number.isNaN(value)) return 'NaN';
  if (!Number.isFinite(value)) return value > 0 ? '+Inf' : '-Inf';
  return String(value);
}

function labelText(labels: Labels): string {
  const parts = Object.entries(labels).map(([name, value]) => `${name}="${escaped(value)}"`);
  return parts.length === 0 ? '' : `{${parts.join(',')}}`;
}

/** One family: its series by label values, and how each is written. */
class Family {
  readonly #series = new Map<string, Series>();
  readonly #bounds: readonly number[];
  readonly #states: readonly string[];
  readonly kind: Kind;
  readonly options: FamilyOptions;
  readonly #room: () => boolean;

  constructor(
    kind: Kind,
    options: FamilyOptions,
    { bounds = [], states = [], room }: { bounds?: readonly number[]; states?: readonly string[]; room: () => boolean },
  ) {
    assert(NAME.test(options.name) && !/_(?:total|bucket|count|sum|created|info)$/.test(options.name), options.name);
    assert(options.unit === undefined || options.name.endsWith(`_${options.unit}`), `${options.name} ends in its unit`);
    for (const name of options.labels ?? []) assert(NAME.test(name) && name !== 'le', `label ${name}`);
    this.kind = kind;
    this.options = options;
    this.#bounds = bounds;
    this.#states = states;
    this.#room = room;
  }

  get size(): number {
    return this.#series.size;
  }

  /** The series of these labels, made at first use; null where the registry is full. */
  series(labels: Labels): Series | null {
    const names = this.options.labels ?? [];
    assert(
      Object.keys(labels).length === names.length && names.every((name) => Object.hasOwn(labels, name)),
      `${this.options.name} takes the labels ${names.join(', ') || 'none'}`,
    );
    const key = JSON.stringify(names.map((name) => labels[name]));
    const known = this.#series.get(key);
    if (known !== undefined) return known;
    if (!this.#room()) return null;
    const ordered = Object.fromEntries(names.map((name) => [name, labels[name] ?? '']));
    const fresh: Series = { labels: ordered, value: 0, buckets: this.#bounds.map(() => 0), count: 0, state: '' };
    this.#series.set(key, fresh);
    return fresh;
  }

  observe(series: Series, value: number): void {
    series.value += value;
    series.count += 1;
    this.#bounds.forEach((bound, i) => {
      if (value <= bound) series.buckets[i] = (series.buckets[i] ?? 0) + 1;
    });
  }

  knows(state: string): boolean {
    return this.#states.includes(state);
  }

  lines(): string[] {
    const { name, help, unit } = this.options;
    const head = [`# TYPE ${name} ${this.kind}`];
    if (unit !== undefined) head.push(`# UNIT ${name} ${unit}`);
    head.push(`# HELP ${name} ${escaped(help)}`);
    return [...head, ...[...this.#series.values()].flatMap((series) => this.#samples(series))];
  }

  #samples({ labels, value, buckets, count, state }: Series): string[] {
    const { name } = this.options;
    switch (this.kind) {
      case 'counter':
        return [`${name}_total${labelText(labels)} ${numberText(value)}`];
      case 'gauge':
        return [`${name}${labelText(labels)} ${numberText(value)}`];
      case 'stateset':
        return this.#states.map((one) => `${name}${labelText({ ...labels, [name]: one })} ${one === state ? 1 : 0}`);
      case 'histogram':
        return [
          ...this.#bounds.map((le, i) => {
            const text = Number.isInteger(le) ? `${le}.0` : numberText(le);
            return `${name}_bucket${labelText({ ...labels, le: text })} ${buckets[i] ?? 0}`;
          }),
          `${name}_bucket${labelText({ ...labels, le: '+Inf' })} ${count}`,
          `${name}_count${labelText(labels)} ${count}`,
          `${name}_sum${labelText(labels)} ${numberText(value)}`,
        ];
    }
  }
}

export interface Registry {
  counter(options: FamilyOptions): Counter;
  gauge(options: FamilyOptions): Gauge;
  /** `bounds` rise; the one at infinity is added. */
  histogram(options: FamilyOptions & { readonly bounds: readonly number[] }): Histogram;
  stateSet(options: FamilyOptions & { readonly states: readonly string[] }): StateSet;
  /** Series that found no room. */
  dropped(): number;
  text(): string;
}

/** `seriesMax` bounds the series of all families together; what finds no room is counted and left out. */
export function createRegistry({ seriesMax }: { readonly seriesMax: number }): Registry {
  const families = new Map<string, Family>();
  let dropped = 0;
  const room = (): boolean => {
    let size = 0;
    for (const family of families.values()) size += family.size;
    if (size < seriesMax) return true;
    dropped += 1;
    return false;
  };
  const add = (
    kind: Kind,
    options: FamilyOptions,
    more: { bounds?: readonly number[]; states?: readonly string[] } = {},
  ): Family => {
    assert(!families.has(options.name), `the metric ${options.name} is there once`);
    const family = new Family(kind, options, { ...more, room });
    families.set(options.name, family);
    return family;
  };
  return {
    counter: (options) => counterOf(add('counter', options)),
    gauge: (options) => {
      const family = add('gauge', options);
      return {
        set: (value, labels = {}) => {
          const series = family.series(labels);
          if (series !== null) series.value = value;
        },
      };
    },
    histogram: (options) => histogramOf(options.bounds, add('histogram', options, { bounds: options.bounds })),
    stateSet: (options) => {
      const family = add('stateset', options, { states: options.states });
      return {
        set: (state, labels = {}) => {
          assert(family.knows(state), `${options.name} knows the state '${state}'`);
          const series = family.series(labels);
          if (series !== null) series.state = state;
        },
      };
    },
    dropped: () => dropped,
    text: () => `${[...families.values()].flatMap((family) => family.lines()).join('\n')}\n# EOF\n`,
  };
}

function counterOf(family: Family): Counter {
  return {
    add: (labels = {}, by = 1) => {
      assert(by >= 0, `${family.options.name} only rises`);
      const series = family.series(labels);
      if (series !== null) series.value += by;
    },
    set: (total, labels = {}) => {
      assert(total >= 0, `${family.options.name} is a count`);
      const series = family.series(labels);
      if (series !== null) series.value = total;
    },
  };
}

function histogramOf(bounds: readonly number[], family: Family): Histogram {
  assert(
    bounds.every((bound, i) => Number.isFinite(bound) && bound > (bounds[i - 1] ?? Number.NEGATIVE_INFINITY)),
    'bounds rise',
  );
  return {
    observe: (value, labels = {}) => {
      assert(Number.isFinite(value), `${family.options.name} observes finite numbers`);
      const series = family.series(labels);
      if (series !== null) family.observe(series, value);
    },
  };
}
