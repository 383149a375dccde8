/**
 * Words and habits that do not belong in the project: paths of a machine, hosts of registries, work left behind, tests
 * that cannot fail or do not run.
 */
import type { Finding, SourceFile } from './source.ts';

interface Ban {
  readonly pattern: RegExp;
  readonly message: string;
  /** Only in files of these paths. */
  readonly within?: RegExp;
}

// Written so that this file does not match itself.
const BANS: readonly Ban[] = [
  {
    pattern: /(?:^|[^\w.])\/(?:work|farm|root|home\/\w+|Users\/\w+)\//,
    message: 'names a path of one machine',
  },
  { pattern: /\bregistry\.[a-z][a-z0-9-]*\.[a-z]{2,}/i, message: 'names a registry host' },
  { pattern: /\bnpm(?:js)\.(?:org|com)\b/i, message: 'names a registry host' },
  { pattern: /\btrans(?:cript)s?\b|\bseed(?: document)\b/i, message: 'speaks of a source document' },
  {
    pattern: /\bsub-?(?:agent)s?\b|\bLL(?:M)s?\b|\bA(?:I)\b|language (?:model)/,
    message: 'speaks of how the project is made',
  },
  {
    pattern: /\b(?:design|domain|references|buses|style)\.(?:md)\b|\.\.\/(?:shared)\//,
    message: 'refers to a document that is not in the project',
  },
  { pattern: /\b(?:TO(?:DO)|FIX(?:ME)|XX(?:X)|HA(?:CK))\b/, message: 'leaves work behind: do it or file it' },
  {
    pattern: /\.(?:skip|only|todo|fails|skipIf|runIf)\(/,
    message: 'a test that does not run, or alone runs',
    within: /^tests\//,
  },
  {
    pattern: /\bexpect\(\s*(?:true|false|null|undefined|-?\d+(?:\.\d+)?|'[^']*')\s*\)/,
    message: 'an assertion about a literal cannot fail',
    within: /^tests\//,
  },
  {
    pattern: /\.toBe(?:GreaterThan|LessThan)\w*\([^)]*\b(?:performance\.now|Date\.now)\(/,
    message: 'asserts a time',
    within: /^tests\//,
  },
];

export function checkWords(files: readonly SourceFile[]): Finding[] {
  const findings: Finding[] = [];
  for (const { path, text } of files)
    text.split('\n').forEach((line, i) => {
      for (const { pattern, message, within } of BANS) {
        const hit = within === undefined || within.test(path) ? pattern.exec(line) : null;
        if (hit !== null) findings.push({ path, line: i + 1, message: `${message}: '${hit[0].trim()}'` });
      }
    });
  return findings;
}
