/**
 * A site file fit to be shown to others: keys that the schema knows, numbers, and words that can only be of the trade.
 * Every other text - names, addresses, users, secrets, free words, comments - is taken out, and told beside it, so that
 * it can be taken out of everything else too. Works on whatever can be read, also where the agent would refuse it.
 */
import { isMap, isScalar, isSeq, parseDocument, stringify } from 'yaml';
import { LIMITS } from '../base/limits.ts';
import { knownKeys } from '../site/known-keys.ts';
import { siteSchema } from '../site/schema.ts';
import { readFileBounded } from './files.ts';
import { secretTag } from './secrets.ts';

export const REDACTED = '[redacted]';
const UNKNOWN = '[unknown key]';

export interface RedactedFile {
  /** YAML; null where the file cannot be read. */
  readonly text: string | null;
  /** What was taken out, as it stood there: texts of the file, never values that a secret points to. */
  readonly taken: readonly string[];
  /** History folder that the file names, also where the rest of it is wrong. */
  readonly folder: string | null;
}

/** Places whose texts are words and quantities of the trade. `*` is any one step. */
const KEPT: readonly (readonly string[])[] = [
  ['site', 'time_zone'],
  ['site', 'unit_system'],
  ['site', 'barometer'],
  ['site', 'altitude'],
  ['site', 'barometer_uncertainty'],
  ['influx', 'api'],
  ['mail', 'security'],
  ['chillers', '*', 'id'],
  ...['machine', 'running', 'points', 'pressure_window', 'baseline'].map((key) => ['chillers', '*', key]),
  ...[
    'id',
    'watch',
    'above',
    'below',
    'deadband',
    'on_delay',
    'off_delay',
    'when',
    'running_for',
    'respond_within',
  ].map((key) => ['chillers', '*', 'alarms', '*', key]),
];
/** Numbers that say where something is, or what somebody pays. */
const TAKEN_NUMBERS: readonly (readonly string[])[] = [
  ['tariff'],
  ['chillers', '*', 'source', 'bacnet', 'device'],
  ['chillers', '*', 'source', 'bacnet', 'network'],
];
/** One word, a quantity with its unit, or a share of something. */
const PLAIN = /^(?:[\w.:/-]+|[-+]?[\d.,eE+-]+ ?[\w%/°²³·]*(?: of (?:span|value))?)$/u;
const ADDRESS = /\d{1,3}(?:\.\d{1,3}){3}|@|:\/\//;

type Path = readonly (string | number)[];

export async function redactSiteFile(file: string): Promise<RedactedFile> {
  let text: string;
  try {
    text = await readFileBounded(file, LIMITS.site_file_bytes_max);
  } catch {
    return { text: null, taken: [], folder: null };
  }
  const document = parseDocument(text, { customTags: [secretTag], prettyErrors: false });
  const taken: string[] = [];
  const value = clean(document.contents, [], taken);
  const folder = document.getIn(['history', 'folder']);
  return { text: stringify(value), taken, folder: typeof folder === 'string' ? folder : null };
}

/** The parser's tree, not its value: an alias of the file is not followed, so a small file stays small. */
function clean(node: unknown, path: Path, taken: string[]): unknown {
  if (isMap(node)) {
    const known = new Set(knownKeys(siteSchema, path));
    const entries = node.items.map(({ key, value }) => {
      const name = isScalar(key) ? String(key.value) : '';
      // What the address of a point holds depends on its bus, so no schema is behind it; its texts are still cleaned.
      const free = path.at(-1) === 'address' && path.includes('points');
      if (known.has(name) || free) return [name, clean(value, [...path, name], taken)];
      taken.push(name);
      return [UNKNOWN, clean(value, [...path, UNKNOWN], taken)];
    });
    return Object.fromEntries(entries);
  }
  if (isSeq(node)) return node.items.map((item, index) => clean(item, [...path, index], taken));
  if (!isScalar(node)) return node === null ? null : REDACTED;
  return cleanScalar(node.value, path, taken);
}

function cleanScalar(value: unknown, path: Path, taken: string[]): unknown {
  if (value === null || typeof value === 'boolean') return value;
  if (typeof value === 'number' && !path.includes(UNKNOWN) && !under(path, TAKEN_NUMBERS)) return value;
  if (typeof value === 'string' && under(path, KEPT) && !path.includes(UNKNOWN) && isPlain(value)) return value;
  if (typeof value === 'string') taken.push(value);
  return REDACTED;
}

function isPlain(text: string): boolean {
  return text.length <= 60 && PLAIN.test(text) && !ADDRESS.test(text);
}

function under(path: Path, places: readonly (readonly string[])[]): boolean {
  return places.some(
    (place) => place.length <= path.length && place.every((step, index) => step === '*' || step === path[index]),
  );
}
