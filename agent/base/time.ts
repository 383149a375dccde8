/**
 * Instants as text. The one file of the pure rooms that names Date: as a converter of a given value, never as a
 * clock.
 */
import { assert } from './result.ts';

/**
 * RFC 3339 in UTC to the millisecond, without a fraction where it is a whole second. `time` in ms since
 * 1970-01-01T00:00:00Z.
 */
export function rfc3339(time: number): string {
  assert(Number.isFinite(time), 'an instant is a finite number');
  // biome-ignore lint/style/noRestrictedGlobals: converts a given instant, reads no clock
  const text = new Date(time).toISOString();
  return text.endsWith('.000Z') ? `${text.slice(0, -5)}Z` : text;
}

const FORM = /^\d{4}-\d{2}-\d{2}[Tt ]\d{2}:\d{2}:\d{2}(\.\d+)?([Zz]|[+-]\d{2}:\d{2})$/;

/** Milliseconds since the epoch of an RFC 3339 text, or null where it is none. */
export function parseRfc3339(text: string): number | null {
  if (!FORM.test(text)) return null;
  // biome-ignore lint/style/noRestrictedGlobals: converts a given text, reads no clock
  const time = Date.parse(text.replace(' ', 'T'));
  return Number.isNaN(time) ? null : time;
}
