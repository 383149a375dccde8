/** Reads the map of a trend export: YAML with line positions, every mistake with file, line, key and what to do. */
import { LIMITS } from '../base/limits.ts';
import type { Result } from '../base/result.ts';
import type { SiteIssue } from '../site/issues.ts';
import type { Site } from '../site/site.ts';
import { readTrendMap, type TrendMapFile } from '../site/trend-map.ts';
import { checkChillers } from '../site/trend-points.ts';
import { readFileBounded } from './files.ts';
import { type ConfigIssue, located, parseText, plainValueOf } from './load.ts';
import { reasonOf } from './secrets.ts';

export interface OpenedMap {
  readonly map: TrendMapFile;
  /** Issues that show only beside the export, with their lines in the map. */
  readonly locate: (issues: readonly SiteIssue[]) => readonly ConfigIssue[];
}

/** The map, checked against the site, or every mistake in it. */
export async function openTrendMap(path: string, site: Site): Promise<Result<OpenedMap, readonly ConfigIssue[]>> {
  let text: string;
  try {
    text = await readFileBounded(path, LIMITS.site_file_bytes_max);
  } catch (error) {
    const message = `cannot be read (${reasonOf(error)}): check the path; config/trend-map.yaml is an example`;
    const whole = { file: path, line: null, key: '', nearest: null, related_line: null };
    return { ok: false, fault: [{ code: 'config_not_read', message, ...whole }] };
  }
  const parsed = parseText(text, path);
  if (!parsed.ok) return parsed;
  const value = plainValueOf(parsed.value.document, path);
  if (!value.ok) return value;
  const locate = (issues: readonly SiteIssue[]): readonly ConfigIssue[] =>
    issues.map((each) => located(each, path, parsed.value)).sort((a, b) => (a.line ?? 0) - (b.line ?? 0));
  const read = readTrendMap(value.value);
  if (!read.ok) return { ok: false, fault: locate(read.fault) };
  const issues = checkChillers(read.value, site);
  if (issues.length > 0) return { ok: false, fault: locate(issues) };
  return { ok: true, value: { map: read.value, locate } };
}
