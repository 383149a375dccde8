/**
 * A strict reader of OpenMetrics text, written from the grammar of OpenMetrics 1.0 (from memory) and not from our
 * writer: order of metadata, families in one piece, suffixes by kind, label syntax, escapes, numbers, histogram and
 * state set rules, the final EOF.
 */
export interface ParsedSample {
  readonly name: string;
  readonly labels: Readonly<Record<string, string>>;
  readonly value: number;
}

export interface ParsedFamily {
  readonly name: string;
  kind: string;
  unit: string;
  help: string;
  readonly samples: ParsedSample[];
}

const SUFFIXES: Readonly<Record<string, readonly string[]>> = {
  counter: ['_total', '_created'],
  gauge: [''],
  histogram: ['_bucket', '_count', '_sum', '_created'],
  stateset: [''],
  info: ['_info'],
  unknown: [''],
};
const NAME = /^[a-zA-Z_:][a-zA-Z0-9_:]*$/;
const NUMBER =
  /^(?:[+-]?\d+(?:\.\d*)?(?:[eE][+-]?\d+)?|[+-]?\.\d+(?:[eE][+-]?\d+)?|[+-]?(?:[Ii]nf|[Ii]nfinity)|[Nn]a[Nn])$/;

function number(text: string): number {
  if (!NUMBER.test(text)) throw new Error(`'${text}' is no number`);
  if (/inf/i.test(text)) return text.startsWith('-') ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY;
  return /nan/i.test(text) ? Number.NaN : Number(text);
}

/** Undoes the escapes; a bare quote, backslash or anything after the closing quote is an error. */
function unescaped(text: string): string {
  if (/(?:^|[^\\])(?:\\\\)*"/.test(text) || /(?:^|[^\\])(?:\\\\)*\\(?:[^n"\\]|$)/.test(text))
    throw new Error(`'${text}' is not escaped`);
  return text.replaceAll(/\\(.)/gs, (_whole, mark: string) => (mark === 'n' ? '\n' : mark));
}

function labelsOf(text: string): Record<string, string> {
  const labels: Record<string, string> = {};
  let rest = text;
  while (rest !== '') {
    const [whole, name = '', value = '', comma = ''] =
      /^([a-zA-Z_][a-zA-Z0-9_]*)="((?:[^"\\\n]|\\.)*)"(,|$)/s.exec(rest) ?? [];
    if (whole === undefined || Object.hasOwn(labels, name)) throw new Error(`bad labels '${text}'`);
    labels[name] = unescaped(value);
    rest = rest.slice(whole.length);
    if (comma === ',' && rest === '') throw new Error(`trailing comma in '${text}'`);
  }
  return labels;
}

function sampleOf(line: string): ParsedSample {
  const [, name = '', , labels = '', value = ''] = /^([^\s{]+)(\{(.*)\})? (\S+)$/s.exec(line) ?? [];
  if (!NAME.test(name)) throw new Error(`bad sample '${line}'`);
  return { name, labels: labelsOf(labels), value: number(value) };
}

function checkMetadata(family: ParsedFamily): void {
  if (!Object.hasOwn(SUFFIXES, family.kind)) throw new Error(`${family.name}: unknown type '${family.kind}'`);
  if (family.unit !== '' && !family.name.endsWith(`_${family.unit}`))
    throw new Error(`${family.name} does not end in its unit`);
  if (family.unit !== '' && ['stateset', 'info'].includes(family.kind))
    throw new Error(`${family.name}: a ${family.kind} has no unit`);
}

function withoutLe(labels: Readonly<Record<string, string>>): string {
  return JSON.stringify(Object.entries(labels).filter(([name]) => name !== 'le'));
}

function checkHistogram({ name, samples }: ParsedFamily): void {
  const groups = Map.groupBy(samples, ({ labels }) => withoutLe(labels));
  for (const group of groups.values()) {
    const buckets = group.filter((sample) => sample.name === `${name}_bucket`);
    const bounds = buckets.map(({ labels }) => number(labels['le'] ?? 'missing'));
    const counts = buckets.map(({ value }) => value);
    const rises = (list: readonly number[], strictly: boolean) =>
      list.every((x, i) => i === 0 || x > (list[i - 1] ?? 0) || (!strictly && x === list[i - 1]));
    if (!rises(bounds, true) || bounds.at(-1) !== Number.POSITIVE_INFINITY) throw new Error(`${name}: bounds`);
    if (!rises(counts, false)) throw new Error(`${name}: buckets are cumulative`);
    const count = group.find((sample) => sample.name === `${name}_count`)?.value;
    if (count !== counts.at(-1)) throw new Error(`${name}: count and last bucket differ`);
    if (!group.some((sample) => sample.name === `${name}_sum`)) throw new Error(`${name}: no sum`);
  }
}

function checkFamily(family: ParsedFamily): void {
  const { name, kind, samples } = family;
  const seen = new Set<string>();
  for (const sample of samples) {
    const suffix = sample.name.slice(name.length);
    if (!sample.name.startsWith(name) || !SUFFIXES[kind]?.includes(suffix))
      throw new Error(`${sample.name} does not belong to the ${kind} ${name}`);
    const key = sample.name + JSON.stringify(Object.entries(sample.labels).sort());
    if (seen.has(key)) throw new Error(`${key} is there twice`);
    seen.add(key);
    if (kind === 'counter' && !(sample.value >= 0)) throw new Error(`${name}: a counter is not negative`);
    if (kind === 'stateset' && (![0, 1].includes(sample.value) || sample.labels[name] === undefined))
      throw new Error(`${name}: a state is 0 or 1 and named by a label`);
  }
  if (kind === 'histogram') checkHistogram(family);
}

/** Throws at the first breach, with the line. */
export function parseOpenMetrics(text: string): ParsedFamily[] {
  if (!text.endsWith('# EOF\n') || text.slice(0, -6).includes('\n# EOF')) throw new Error('EOF ends the text, once');
  const families = new Map<string, ParsedFamily>();
  let current = null as ParsedFamily | null;
  for (const line of text.slice(0, -6).split('\n').slice(0, -1)) {
    const [, word, name = '', rest = ''] = /^# (TYPE|UNIT|HELP) (\S+)(?: (.*))?$/s.exec(line) ?? [];
    if (word === undefined) {
      if (line.startsWith('#') || current === null) throw new Error(`bad line '${line}'`);
      current.samples.push(sampleOf(line));
      continue;
    }
    if (current?.name !== name) {
      if (families.has(name) || !NAME.test(name)) throw new Error(`${name} is in two pieces or badly named`);
      current = { name, kind: '', unit: '', help: '', samples: [] };
      families.set(name, current);
    }
    if (current.samples.length > 0) throw new Error(`${name}: metadata after samples`);
    const field = word === 'TYPE' ? 'kind' : word === 'UNIT' ? 'unit' : 'help';
    if (current[field] !== '') throw new Error(`${name}: ${word} twice`);
    current[field] = word === 'HELP' ? unescaped(rest) : rest;
  }
  for (const family of families.values()) {
    checkMetadata(family);
    checkFamily(family);
  }
  return [...families.values()];
}
