/**
 * Reads the project's own files from disk: everything that is neither ignored by git nor binary. The checks themselves
 * are pure and see only this list.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { SourceFile } from './source.ts';

export const ROOT = new URL('../..', import.meta.url).pathname;
const BINARY = /\.(?:png|jpe?g|gif|ico|woff2?|gz|zip|sqlite|db)$/;

/** Patterns of `.gitignore` in the plain forms that this project uses: `name/`, `/name/`, `path/name/`, `*.ext`. */
function ignoredBy(lines: readonly string[]): (path: string, folder: boolean) => boolean {
  const rules = lines.filter((line) => line.trim() !== '' && !line.startsWith('#'));
  return (path, folder) =>
    rules.some((rule) => {
      if (rule.endsWith('/') && !folder) return false;
      const bare = rule.replace(/\/$/, '');
      const subject = bare.includes('/') ? path : (path.split('/').at(-1) ?? path);
      const source = bare.replace(/^\//, '').replaceAll('.', '\\.').replaceAll('*', '[^/]*');
      return new RegExp(`^${source}$`).test(subject);
    });
}

function list(): string[] {
  const ignored = ignoredBy(readFileSync(join(ROOT, '.gitignore'), 'utf8').split('\n'));
  const paths: string[] = [];
  const enter = (folder: string): void => {
    for (const entry of readdirSync(join(ROOT, folder), { withFileTypes: true })) {
      const path = folder === '' ? entry.name : `${folder}/${entry.name}`;
      if (path === '.git' || ignored(path, entry.isDirectory())) continue;
      if (entry.isDirectory()) enter(path);
      else if (entry.isFile()) paths.push(path);
    }
  };
  enter('');
  return paths.sort();
}

/** Paths of all files, binary ones too. */
export const PATHS: readonly string[] = list();

/** All text files. */
export const TREE: readonly SourceFile[] = PATHS.filter((path) => !BINARY.test(path)).map((path) => ({
  path,
  text: readFileSync(join(ROOT, path), 'utf8'),
}));

export function textOf(path: string): string {
  const file = TREE.find((one) => one.path === path);
  if (file === undefined) throw new Error(`no file ${path}`);
  return file.text;
}
