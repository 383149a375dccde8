/** A chiller's section of a site file as a text by itself: YAML or JSON, mistakes with line and key. */
import { LIMITS } from '../base/limits.ts';
import type { Result } from '../base/result.ts';
import type { GivenChiller } from '../site/given.ts';
import { readSection } from '../site/section.ts';
import { type ConfigIssue, located, parseText, plainValueOf } from './load.ts';

/** `name` is what messages call the text. Secrets have no place in it. */
export function openSection(
  text: string,
  { name, barometer }: { readonly name: string; readonly barometer: string },
): Result<GivenChiller, readonly ConfigIssue[]> {
  if (text.length > LIMITS.site_file_bytes_max) return failed(name, `longer than ${LIMITS.site_file_bytes_max} bytes`);
  const parsed = parseText(text, name);
  if (!parsed.ok) return parsed;
  const value = plainValueOf(parsed.value.document, name);
  if (!value.ok) return value;
  if (value.value === null) return failed(name, 'is empty: paste the entry of a chiller, at least its `machine`');
  const read = readSection(value.value, barometer);
  return read.ok ? read : { ok: false, fault: read.fault.map((issue) => located(issue, name, parsed.value)) };
}

function failed(file: string, message: string): { readonly ok: false; readonly fault: readonly ConfigIssue[] } {
  return {
    ok: false,
    fault: [{ code: 'config_value', file, line: null, key: '', message, nearest: null, related_line: null }],
  };
}
