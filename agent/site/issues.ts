/** What is wrong with a site, as values: where, what, what to do. The config room adds file and line. */
import type { z } from 'zod';
import type { ErrorCode } from '../base/errors.ts';
import { descriptionAt, knownKeys } from './known-keys.ts';
import { nearest } from './nearest.ts';

export type SitePath = readonly (string | number)[];

export interface SiteIssue {
  readonly code: ErrorCode;
  readonly path: SitePath;
  /** Whether the key itself is wrong, or what stands behind it. */
  readonly at: 'key' | 'value';
  /** What is wrong and what to do, without the place. */
  readonly message: string;
  /** The nearest known key, point or unit; null where none is near. */
  readonly nearest: string | null;
  /** Another place that the message speaks of. */
  readonly related: SitePath | null;
}

export function issue(
  code: ErrorCode,
  path: SitePath,
  message: string,
  more: Partial<Pick<SiteIssue, 'at' | 'nearest' | 'related'>> = {},
): SiteIssue {
  return { code, path, at: 'value', message, nearest: null, related: null, ...more };
}

type ZodIssue = z.core.$ZodIssue;

/**
 * Issues of a schema in the words of a site file. `under` is where the schema's value stands. Parse with
 * `reportInput: true`.
 */
export function fromZod(schema: z.core.$ZodType, error: z.core.$ZodError, under: SitePath = []): SiteIssue[] {
  const issues = error.issues.flatMap((each) => translate(schema, each, under));
  // A misspelt key is also a missing one, or one of several of which its group needs any: said once.
  const meant = new Set(
    issues
      .filter((each) => each.nearest !== null)
      .flatMap(({ path, nearest: key }) => [placed([...path.slice(0, -1), key as string]), placed(path.slice(0, -1))]),
  );
  return issues.filter((each) => each.code !== 'config_key_missing' || !meant.has(placed(each.path)));
}

function placed(path: SitePath): string {
  return JSON.stringify(path);
}

function translate(schema: z.core.$ZodType, found: ZodIssue, under: SitePath): SiteIssue[] {
  const inner = found.path.filter((part) => typeof part !== 'symbol');
  const path = [...under, ...inner];
  const code = (found as { params?: { code?: ErrorCode } }).params?.code ?? 'config_value';
  if (found.code === 'unrecognized_keys') {
    const known = knownKeys(schema, inner);
    return found.keys.map((key) => unknownKey([...path, key], known));
  }
  if (found.code === 'invalid_union' && found.input !== undefined) return translateUnion(schema, found, under, inner);
  if (MISSING_CODES.has(found.code) && found.input === undefined) {
    const meaning = descriptionAt(schema, inner);
    return [issue('config_key_missing', path, `is missing: add it${meaning === null ? '' : ` (${meaning})`}`)];
  }
  if (found.code === 'invalid_value') {
    const known = found.values.map(String);
    return [issue(code, path, words(found), { nearest: nearest(String(found.input), known) })];
  }
  const message = words(found);
  const unit = /^unknown unit '(.+)': use (.+)$/.exec(message);
  if (unit !== null)
    return [
      issue('config_unit', path, message, { nearest: nearest(unit[1] as string, (unit[2] as string).split(', ')) }),
    ];
  // A check of ours may carry the list that it chose from.
  const known = (found as { params?: { known?: readonly string[] } }).params?.known;
  return [issue(code, path, message, { nearest: known === undefined ? null : nearest(String(found.input), known) })];
}

/** What zod says of a key that is not there: an absent value is of no type, no list and no alternative. */
const MISSING_CODES: ReadonlySet<string> = new Set(['invalid_type', 'invalid_union', 'invalid_value']);

function translateUnion(
  schema: z.core.$ZodType,
  found: Extract<ZodIssue, { code: 'invalid_union' }>,
  under: SitePath,
  inner: SitePath,
): SiteIssue[] {
  const path = [...under, ...inner];
  if (typeof found.discriminator === 'string') {
    const options = ((found as { options?: readonly unknown[] }).options ?? []).map(String);
    const given = (found.input as Readonly<Record<string, unknown>>)[found.discriminator];
    const list = options.map(quoted).join(', ');
    if (given === undefined) return [issue('config_key_missing', path, `is missing: add it (one of ${list})`)];
    return [issue('config_value', path, `must be one of ${list}`, { nearest: nearest(String(given), options) })];
  }
  // The alternative that came furthest is the one that was meant.
  const meant = [...found.errors].sort((a, b) => depth(b) - depth(a))[0];
  if (meant !== undefined && depth(meant) > 0)
    return meant.flatMap((each) => translate(schema, { ...each, path: [...found.path, ...each.path] }, under));
  const kinds = found.errors.flatMap((list) => list.slice(0, 1).map(words));
  return [issue('config_value', path, [...new Set(kinds)].join(' or '))];
}

export function unknownKey(path: SitePath, known: readonly string[]): SiteIssue {
  const key = String(path.at(-1));
  const meant = nearest(key, known);
  const options = known.length === 0 ? 'take it out' : `known here: ${known.join(', ')}`;
  return issue('config_key_unknown', path, meant === null ? `unknown key; ${options}` : 'unknown key; correct it', {
    at: 'key',
    nearest: meant,
  });
}

function depth(issues: readonly ZodIssue[]): number {
  return Math.max(0, ...issues.map((each) => (each.code === 'unrecognized_keys' ? 1 : 0) + each.path.length));
}

/** One sentence for what zod found. */
function words(found: ZodIssue): string {
  switch (found.code) {
    case 'invalid_type':
      return `must be ${ARTICLES[found.expected] ?? found.expected}`;
    case 'invalid_value':
      return `must be ${found.values.length === 1 ? '' : 'one of '}${found.values.map(quoted).join(', ')}`;
    case 'too_small':
      return bound(found.origin, found.inclusive === false ? 'more than' : 'at least', found.minimum);
    case 'too_big':
      return bound(found.origin, found.inclusive === false ? 'less than' : 'at most', found.maximum);
    default:
      return found.message;
  }
}

function quoted(value: unknown): string {
  return typeof value === 'string' ? `'${value}'` : String(value);
}

function bound(origin: string, relation: string, limit: number | bigint): string {
  if (origin === 'array') return `must have ${relation} ${limit} entries`;
  if (origin === 'string') return `must have ${relation} ${limit} characters`;
  return `must be ${relation} ${limit}`;
}

const ARTICLES: Readonly<Record<string, string>> = {
  string: 'a text',
  number: 'a number',
  int: 'a whole number',
  boolean: 'true or false',
  object: 'a group of keys',
  record: 'a group of keys',
  array: 'a list',
  tuple: 'a list of two',
};
