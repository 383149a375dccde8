/**
 * What a failure of the mail server means (RFC 5321: 4yz may work later, 5yz will not; 4.2.1). What people mend on the
 * server - the login, the certificate, the sender's right - keeps the mail: the outbox is there to wait. A message
 * refused for good is given up and counted. A refusal of every sender or connection with 5yz is tried a bounded number
 * of times, for it mostly says that the server is set up wrongly.
 */
import type { ErrorCode } from '../base/errors.ts';
import type { Fault } from '../base/result.ts';
import { isTlsError } from './authority.ts';

/** What a recipient's server said. */
export interface Refusal {
  readonly address: string;
  readonly reply: string;
}

export type MailOutcome =
  | {
      readonly kind: 'taken';
      readonly accepted: readonly string[];
      readonly refused: readonly Refusal[];
      readonly deferred: readonly Refusal[];
    }
  | {
      readonly kind: 'failed';
      readonly fault: Fault;
      readonly verdict: 'keep' | 'keep for some tries' | 'reject' | 'smaller';
    };

/** As much of the library's error as is looked at. */
interface SmtpError {
  readonly code?: string;
  readonly responseCode?: number;
  readonly response?: string;
  readonly command?: string;
  readonly message?: string;
  readonly recipient?: string;
  readonly rejectedErrors?: readonly SmtpError[];
}

const REPLY_CHARACTERS_MAX = 200;

/** RFC 1870: 552 and 5.3.4, message larger than the server takes. */
const TOO_LARGE = /^552|\b5\.3\.4\b/;
/** RFC 4954: the server asks for a login, a stronger one, or TLS first. */
const LOGIN_REPLIES: ReadonlySet<number> = new Set([454, 530, 534, 535, 538]);

/** Recipients that were refused, sorted by whether a later try may work. */
export function sortRefusals(errors: readonly unknown[]): {
  readonly refused: Refusal[];
  readonly deferred: Refusal[];
} {
  const refused: Refusal[] = [];
  const deferred: Refusal[] = [];
  for (const error of errors as readonly SmtpError[]) {
    const refusal = { address: error.recipient ?? '', reply: replyOf(error) };
    if ((error.responseCode ?? 500) >= 500) refused.push(refusal);
    else deferred.push(refusal);
  }
  return { refused, deferred };
}

/** Outcome of a sending that threw. `place`: host:port, for the message. */
export function outcomeOf(thrown: unknown, place: string): MailOutcome {
  const error = thrown as SmtpError;
  if (error.rejectedErrors !== undefined && error.rejectedErrors.length > 0)
    return { kind: 'taken', accepted: [], ...sortRefusals(error.rejectedErrors) };
  const reply = replyOf(error);
  const failed = (code: ErrorCode, words: string, verdict: 'keep' | 'keep for some tries' | 'reject' | 'smaller') =>
    ({ kind: 'failed', fault: { code, message: `${place}: ${words}: ${reply}` }, verdict }) as const;
  if (error.code === 'EAUTH' || error.code === 'ENOAUTH' || LOGIN_REPLIES.has(error.responseCode ?? 0))
    return failed('mail_not_authorised', 'the mail server refuses the login', 'keep');
  if (isTls(error)) return failed('mail_tls', 'no safe connection', 'keep');
  const status = error.responseCode ?? 0;
  if (status < 400) return failed('mail_unreachable', 'the mail server cannot be reached or broke off', 'keep');
  if (status < 500) return failed('mail_deferred', 'the mail server asks to come later', 'keep');
  if (TOO_LARGE.test(error.response ?? '')) return failed('mail_refused', 'the mail is too large', 'smaller');
  return error.code === 'EMESSAGE' || error.command === 'DATA'
    ? failed('mail_refused', 'the mail server refuses the mail', 'reject')
    : failed('mail_refused', `the mail server refuses ${error.command ?? 'the connection'}`, 'keep for some tries');
}

/** Handshake, certificate, or a server without STARTTLS. */
function isTls(error: SmtpError): boolean {
  const { code, command, message = '' } = error;
  return code === 'ETLS' || command === 'STARTTLS' || message.includes('STARTTLS') || isTlsError(error);
}

/** One line of what was said, cut. */
function replyOf({ response, message, code }: SmtpError): string {
  const text = (response ?? message ?? code ?? 'no reason').replace(/\s+/g, ' ').trim();
  return text.length > REPLY_CHARACTERS_MAX ? `${text.slice(0, REPLY_CHARACTERS_MAX)}...` : text;
}
