/**
 * The page's modules, styles and font: read once, compressed once, served under an address that changes with their
 * content.
 */
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { extname } from 'node:path';
import { brotliCompressSync, constants, gzipSync } from 'node:zlib';

export interface Asset {
  readonly name: string;
  readonly type: string;
  readonly etag: string;
  readonly body: Buffer;
  /** Null where compressing does not pay (fonts). */
  readonly brotli: Buffer | null;
  readonly gzip: Buffer | null;
}

export interface Assets {
  /** Part of every asset's address: changes when any of them does. */
  readonly version: string;
  readonly files: ReadonlyMap<string, Asset>;
  /** Modules that every view needs. */
  readonly modules: readonly string[];
}

const TYPES: Readonly<Record<string, string>> = {
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.woff2': 'font/woff2',
};
/** Fetched otherwise: before the first paint, or by the one view that needs it. */
const OF_ONE_VIEW = /^(look|alarms(-record)?|economizers|suspects|callout(-words)?|season(-\w+)?)\.js$/;
const FONT = '@fontsource/sofia-sans-semi-condensed';

/**
 * What is written for the developer stays with the developer, a third of the modules' weight: comments on lines of
 * their own, types within a line, indentation. No text of the modules runs over the end of a line.
 */
function withoutDocumentation(source: string): string {
  return source
    .replace(/^[ \t]*\/\*\*(?:(?!\*\/)[\s\S])*\*\/\n/gm, '')
    .replace(/\/\*\* @type [^*\n]*\*\/ ?/g, '')
    .replace(/^[ \t]*\/\/.*\n/gm, '')
    .replace(/^[ \t]+/gm, '')
    .replace(/\n{2,}/g, '\n');
}

/**
 * The same of styles, whose comments may stand anywhere, and the blanks that mean nothing; no text of theirs holds a
 * comment, a brace or a colon with a blank after it.
 */
function withoutComments(source: string): string {
  return source
    .replace(/\/\*[\s\S]*?\*\/\n?/g, '')
    .replace(/^[ \t]+/gm, '')
    .replace(/([{};,:])\n/g, '$1')
    .replaceAll(' {', '{')
    .replaceAll(': ', ':')
    .replaceAll(';}', '}');
}

function served(name: string, body: Buffer): Buffer {
  if (name.endsWith('.js')) return Buffer.from(withoutDocumentation(body.toString()));
  return name.endsWith('.css') ? Buffer.from(withoutComments(body.toString())) : body;
}

function asset(name: string, body: Buffer): Asset {
  const packed = extname(name) === '.woff2';
  return {
    name,
    body,
    type: TYPES[extname(name)] ?? 'application/octet-stream',
    etag: `"${createHash('sha256').update(body).digest('base64url').slice(0, 22)}"`,
    brotli: packed ? null : brotliCompressSync(body, { params: { [constants.BROTLI_PARAM_QUALITY]: 11 } }),
    gzip: packed ? null : gzipSync(body, { level: 9 }),
  };
}

const WEIGHTS = [400, 600] as const;

/** The page's typeface, for a document that stands alone too. Throws where it is not installed. */
export function sheetFont(weight: (typeof WEIGHTS)[number]): Buffer {
  const file = `${FONT}/files/sofia-sans-semi-condensed-latin-${weight}-normal.woff2`;
  return readFileSync(createRequire(import.meta.url).resolve(file));
}

/** One style sheet or typeface of the page, as it lies on the disk. */
export function readSheet(name: string): Buffer {
  const [, weight] = /^sheet-(\d+)\.woff2$/.exec(name) ?? [];
  if (weight === undefined) return readFileSync(new URL(`./page/${name}`, import.meta.url));
  const require = createRequire(import.meta.url);
  return readFileSync(require.resolve(`${FONT}/files/sofia-sans-semi-condensed-latin-${weight}-normal.woff2`));
}

/** Reads everything the page needs. Throws where a file is missing: a broken installation. */
export function loadAssets(): Assets {
  const folder = new URL('./page/', import.meta.url);
  const files = new Map<string, Asset>();
  for (const name of readdirSync(folder).sort()) {
    if (TYPES[extname(name)] === undefined) continue;
    const body = readFileSync(new URL(name, folder));
    files.set(name, asset(name, served(name, body)));
  }
  for (const weight of WEIGHTS) files.set(`sheet-${weight}.woff2`, asset(`sheet-${weight}.woff2`, sheetFont(weight)));
  const all = createHash('sha256');
  for (const one of files.values()) all.update(one.name).update(one.etag);
  const modules = [...files.keys()].filter((name) => name.endsWith('.js') && !OF_ONE_VIEW.test(name));
  return { version: all.digest('base64url').slice(0, 12), files, modules };
}
