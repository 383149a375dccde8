/**
 * Reads a site file: YAML with line positions, secrets from where it points to, every mistake with file, line, key
 * and what to do.
 */
import { type Document, LineCounter, parseDocument } from 'yaml';
import type { ErrorCode } from '../base/errors.ts';
import { LIMITS } from '../base/limits.ts';
import type { Result } from '../base/result.ts';
import type { SiteIssue, SitePath } from '../site/issues.ts';
import { readSite, type Site } from '../site/site.ts';
import { readFileBounded } from './files.ts';
import { lineOf } from './locate.ts';
import { reasonOf, resolveSecrets, secretTag } from './secrets.ts';

/** One mistake or notice, located. */
export interface ConfigIssue {
  readonly code: ErrorCode;
  readonly file: string;
  /** From 1; null where the file has no lines to point to. */
  readonly line: number | null;
  /** As people write it: `chillers[0].points.evaporator.pressure.unit`; '' for the whole file. */
  readonly key: string;
  /** What is wrong and what to do. */
  readonly message: string;
  /** The nearest known key, point or unit; null where none is near. */
  readonly nearest: string | null;
  /** Line of the other place that the message speaks of. */
  readonly related_line: number | null;
}

/** Something worth saying about a good site, such as a metric that its points can never give. */
export interface SiteNotice {
  readonly code: ErrorCode;
  readonly path: SitePath;
  readonly message: string;
}

export interface LoadOptions {
  readonly env: Readonly<Record<string, string | undefined>>;
  /** Text of a file, or a throw (ENOENT, EFBIG where larger than `bytes_max`, ...). Left out: the file system. */
  readonly readFile?: (path: string, bytes_max: number) => Promise<string>;
  /** Asked once the site is good; the answers come back located beside it. */
  readonly notices?: (site: Site) => readonly SiteNotice[];
}

export interface OpenedSite {
  readonly site: Site;
  readonly notices: readonly ConfigIssue[];
  /** Where a key stands in the file: line (from 1) of the innermost part of the path that the file has. */
  readonly lineOf: (path: SitePath) => number;
}

/** The site of a file, frozen, or every mistake in it. Exit code 2 is the caller's business. */
export async function loadSite(path: string, options: LoadOptions): Promise<Result<Site, readonly ConfigIssue[]>> {
  const opened = await openSite(path, options);
  return opened.ok ? { ok: true, value: opened.value.site } : opened;
}

/** As `loadSite`, with the notices. */
export async function openSite(
  path: string,
  options: LoadOptions,
): Promise<Result<OpenedSite, readonly ConfigIssue[]>> {
  const readFile = options.readFile ?? readFileBounded;
  let text: string;
  try {
    text = await readFile(path, LIMITS.site_file_bytes_max);
  } catch (error) {
    const advice = 'check the path; config/template.yaml is a start for a new site';
    return failed([whole('config_not_read', path, null, `cannot be read (${reasonOf(error)}): ${advice}`)]);
  }
  const parsed = parseText(text, path);
  if (!parsed.ok) return parsed;
  const { document, counter } = parsed.value;
  const secrets = await resolveSecrets(document, path, { env: options.env, readFile });
  const secretIssues = secrets.map(({ offset, path: at, message }) => ({
    ...whole('config_secret', path, counter.linePos(offset).line, message),
    key: keyText(at),
  }));
  const plainValue = plainValueOf(document, path);
  if (!plainValue.ok) return plainValue;
  const result = readSite(plainValue.value);
  const locate = (issue: SiteIssue): ConfigIssue => located(issue, path, parsed.value);
  if (!result.ok || secretIssues.length > 0)
    return failed([...secretIssues, ...(result.ok ? [] : result.fault.filter(isOwn(secretIssues)).map(locate))]);
  const notices = (options.notices?.(result.value) ?? []).map((notice) =>
    locate({ ...notice, at: 'key', nearest: null, related: null }),
  );
  const line = (at: SitePath): number => lineOf(document, counter, at, 'key');
  return { ok: true, value: { site: result.value, notices, lineOf: line } };
}

interface Parsed {
  readonly document: Document;
  readonly counter: LineCounter;
}

/** Text as a document with the lines of its parts, or what of it is no YAML. */
export function parseText(text: string, path: string): Result<Parsed, readonly ConfigIssue[]> {
  const counter = new LineCounter();
  const document: Document = parseDocument(text, {
    lineCounter: counter,
    customTags: [secretTag],
    prettyErrors: false,
  });
  // Warnings are about tags that YAML does not know: here always a slip.
  const malformed = [...document.errors, ...document.warnings].filter(
    // One slip can be told again at every line after it.
    ({ message }, index, all) => all.findIndex((each) => each.message === message) === index,
  );
  if (malformed.length === 0) return { ok: true, value: { document, counter } };
  return failed(
    malformed.map(({ pos, message }) => whole('config_malformed', path, counter.linePos(pos[0]).line, plain(message))),
  );
}

/** The plain value of a document. */
export function plainValueOf(document: Document, path: string): Result<unknown, readonly ConfigIssue[]> {
  try {
    return { ok: true, value: document.toJS({ maxAliasCount: 100 }) };
  } catch (error) {
    const message = plain(error instanceof Error ? error.message : String(error));
    return failed([whole('config_malformed', path, null, message)]);
  }
}

/** A secret that could not be read also fails its schema: said once. */
function isOwn(secrets: readonly ConfigIssue[]): (issue: SiteIssue) => boolean {
  const keys = new Set(secrets.map(({ key }) => key));
  return (issue) => !keys.has(keyText(issue.path));
}

export function located(issue: SiteIssue, file: string, { document, counter }: Parsed): ConfigIssue {
  return {
    code: issue.code,
    file,
    line: lineOf(document, counter, issue.path, issue.at),
    key: keyText(issue.path),
    message: issue.message,
    nearest: issue.nearest,
    related_line: issue.related === null ? null : lineOf(document, counter, issue.related, 'key'),
  };
}

function whole(code: ErrorCode, file: string, line: number | null, message: string): ConfigIssue {
  return { code, file, line, key: '', message, nearest: null, related_line: null };
}

function failed(issues: readonly ConfigIssue[]): { readonly ok: false; readonly fault: readonly ConfigIssue[] } {
  const sorted = [...issues].sort((a, b) => (a.line ?? 0) - (b.line ?? 0));
  return { ok: false, fault: sorted };
}

/** `chillers[0].points.evaporator.pressure.unit` */
export function keyText(path: SitePath): string {
  return path.reduce<string>((text, part) => {
    if (typeof part === 'number') return `${text}[${part}]`;
    return text === '' ? part : `${text}.${part}`;
  }, '');
}

/** One line, without the parser's picture of the place. */
function plain(message: string): string {
  const line = (message.split('\n')[0] as string).trim();
  return `not YAML: ${line.charAt(0).toLowerCase()}${line.slice(1)}`;
}

/** One line for each: `file:line: key: what is wrong; nearest known: 'x'`. */
export function formatIssues(issues: readonly ConfigIssue[]): string {
  return issues.map((issue) => `${formatIssue(issue)}\n`).join('');
}

function formatIssue(issue: ConfigIssue): string {
  const place = issue.line === null ? issue.file : `${issue.file}:${issue.line}`;
  const key = issue.key === '' ? '' : `${issue.key}: `;
  const nearest = issue.nearest === null ? '' : `; the nearest known is '${issue.nearest}'`;
  const related = issue.related_line === null ? '' : ` (the other is line ${issue.related_line})`;
  return `${place}: ${key}${issue.message}${related}${nearest}`;
}
