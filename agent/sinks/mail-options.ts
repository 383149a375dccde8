/** What the mail sink is told, and the check of it that needs no network. */
import type { Outbox } from '../base/delivery.ts';
import { type Fault, fail, ok, type Result } from '../base/result.ts';
import type { AlarmNotice } from '../callout/notice.ts';
import { authorityFault } from './authority.ts';
import type { MailGap } from './mail-batch.ts';

/** Bounds a test may lower; each defaults to its namesake in LIMITS. */
export interface MailLimits {
  readonly mail_backoff_ms_min: number;
  readonly mail_backoff_ms_max: number;
  readonly mail_silence_ms_max: number;
  readonly mail_send_ms_max: number;
  readonly mail_refusals_max: number;
  readonly mail_deferred_ms_max: number;
}

/** What a mail is made of. `attachments` false: it must be small, and says that they were left out. */
export interface MailMatter {
  readonly kind: 'alarm' | 'digest';
  readonly notices: readonly AlarmNotice[];
  readonly gaps: readonly MailGap[];
  readonly attachments: boolean;
}

export interface MailText {
  readonly subject: string;
  readonly text: string;
  readonly html: string;
  readonly attachments: readonly {
    readonly filename: string;
    readonly contentType: string;
    readonly content: string;
  }[];
}

/** How the mail server is reached. */
export interface MailServer {
  readonly host: string;
  readonly port: number;
  /** `starttls`: TLS before anything else is said; `implicit`: TLS from the first byte. Never without. */
  readonly security: 'starttls' | 'implicit';
  readonly username?: string | undefined;
  readonly password?: string | undefined;
  /** PEM of the authority that the server's certificate is checked against; left out: those of Node. */
  readonly ca?: string | undefined;
}

export interface MailOptions {
  readonly outbox: Outbox;
  readonly server: MailServer;
  readonly from: { readonly name: string; readonly address: string };
  readonly to: readonly { readonly address: string; readonly priorities: readonly (1 | 2 | 3)[] }[];
  readonly per_hour: number;
  /** Id of the site: part of every mail's name. */
  readonly site: string;
  readonly compose: (matter: MailMatter) => MailText;
  readonly now?: () => number;
  /** 0 to 1; spreads the tries of many gateways. */
  readonly random?: () => number;
  readonly report?: (fault: Fault) => void;
  readonly checkpoint?: (name: 'after_acknowledge') => void;
  readonly limits?: Partial<MailLimits>;
}

export const ADDRESS = /^[^\s<>@,;:"\\]+@[^\s<>@,;:"\\]+$/;

export function checkMailOptions({ server, from, to, per_hour }: MailOptions): Result<void> {
  if (server.host === '' || !(server.port > 0 && server.port < 65_536))
    return fail('mail_options', `mail server '${server.host}:${server.port}': give host and port`);
  for (const { address } of [from, ...to])
    if (!ADDRESS.test(address))
      return fail('mail_options', `mail address '${address}': write it as name@host, without brackets`);
  if (to.length === 0) return fail('mail_options', 'mail: nobody gets it: give at least one recipient under `to`');
  if (!(per_hour >= 1)) return fail('mail_options', 'mail: at least one mail an hour');
  const authority = server.ca === undefined ? null : authorityFault(server.ca);
  if (authority !== null) return fail('mail_options', `mail.ca ${authority}`);
  if ((server.username === undefined) !== (server.password === undefined))
    return fail('mail_options', 'mail: user and password come together');
  return ok(undefined);
}
