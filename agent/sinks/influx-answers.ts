/**
 * What an answer to a write means for the minutes in it. HTTP: RFC 9110, RFC 6585 (429). The two ways of writing: 204
 * is the one answer of 'taken'; 400 may be a line that no store would take, and may be a wrong address, a missing
 * database or a proxy, so the status alone gives nothing up:
 *
 *     taken       204
 *     partly      201, or a refusal that names the lines: the rest of the write is stored
 *     refused     400, 422 without saying so: whose fault it is shows when each minute is written alone
 *     too large   413: less at once
 *     later       everything else: rights, a database to be made, a store that is busy, a page of a proxy (200)
 */
import type { ErrorCode } from '../base/errors.ts';

export type Verdict = 'taken' | 'partly' | 'refused' | 'too large' | 'failed' | 'later';

/** Words by which stores of both ways say that they read the lines and leave some out. */
const LINES_LEFT_OUT = /partial write|unable to parse|field type conflict|beyond retention/i;

export function verdictOf(status: number, words: string): Verdict {
  if (status === 204) return 'taken';
  if (status === 201) return 'partly';
  if (status === 400 || status === 422) return LINES_LEFT_OUT.test(words) ? 'partly' : 'refused';
  if (status === 413) return 'too large';
  return status === 500 ? 'failed' : 'later';
}

export function codeOf(status: number): ErrorCode {
  if (status === 401 || status === 403) return 'influx_not_authorised';
  return status === 429 || status >= 502 ? 'influx_unreachable' : 'influx_refused';
}

/** What to say of an answer that is not 'taken'. */
export function said(status: number, words: string): string {
  const what = status < 300 ? `answers ${status} where 204 is expected: is this its address?` : `answers ${status}`;
  return words === '' ? what : `${what}: ${words}`;
}

/** RFC 9110, 5.6.7: the form that is sent. */
const HTTP_DATE = /^[A-Z][a-z]{2}, \d{2} [A-Z][a-z]{2} \d{4} \d{2}:\d{2}:\d{2} GMT$/;

/** Pause that the far end asks for (RFC 9110, 10.2.3: seconds or a date), ms; 0 where it asks for none. */
export function askedPauseMs(retry_after: string | null, now: number): number {
  if (retry_after === null) return 0;
  if (/^\d{1,9}$/.test(retry_after)) return 1000 * Number(retry_after);
  const until = HTTP_DATE.test(retry_after) ? Date.parse(retry_after) : Number.NaN;
  return Number.isNaN(until) ? 0 : Math.max(0, until - now);
}
