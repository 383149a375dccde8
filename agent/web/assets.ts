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
const OF_ONE_VIEW = ['look.js', 'alarms.js', 'callout.js', 'callout-words.js'];
const FONT = '@fontsource/sofia-sans-semi-condensed';

/**
 * What is written for the developer stays with the developer, a third of the modules' weight: documentation comments
 * on lines of their own, types within a line, indentation. No text of the modules runs over the end of a line.
 */
function withoutDocumentation(source: string): string {
  return source
    .replace(/^[ \t]*\/\*\*(?:(?!\*\/)[\s\S])*\*\/\n/gm, '')
    .replace(/\/\*\* @type [^*\n]*\*\/ ?/g, '')
    .replace(/^[ \t]+/gm, '');
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

/** Reads everything the page needs. Throws where a file is missing: a broken installation. */
export function loadAssets(): Assets {
  const folder = new URL('./page/', import.meta.url);
  const files = new Map<string, Asset>();
  for (const name of readdirSync(folder).sort()) {
    if (TYPES[extname(name)] === undefined) continue;
    const body = readFileSync(new URL(name, folder));
    files.set(name, asset(name, name.endsWith('.js') ? Buffer.from(withoutDocumentation(body.toString())) : body));
  }
  for (const weight of WEIGHTS) files.set(`sheet-${weight}.woff2`, asset(`sheet-${weight}.woff2`, sheetFont(weight)));
  const all = createHash('sha256');
  for (const one of files.values()) all.update(one.name).update(one.etag);
  const modules = [...files.keys()].filter((name) => name.endsWith('.js') && !OF_ONE_VIEW.includes(name));
  return { version: all.digest('base64url').slice(0, 12), files, modules };
}
