/** Mail about alarms: the server that takes it, who gets it, and how much of it. */
import { z } from 'zod';
import { LIMITS } from '../base/limits.ts';
import { type Secret, secretEntry } from './secret.ts';

/** Ports of message submission: RFC 6409 (587, TLS by STARTTLS) and RFC 8314 (465, TLS from the first byte). */
const PORTS = { starttls: 587, implicit: 465 } as const;
export type MailSecurity = keyof typeof PORTS;

const address = z
  .string()
  .max(254)
  .regex(
    /^[^\s<>@,;:"\\\p{Cc}]+@[^\s<>@,;:"\\\p{Cc}]+$/u,
    'must be an address such as team@quay.example, without brackets',
  );

const priority = z.union([z.literal(1), z.literal(2), z.literal(3)]);

const recipient = z.strictObject({
  address,
  priorities: z.array(priority).min(1).default([1, 2, 3]).describe('alarms of these priorities; left out: all of them'),
});

export const mailEntry = z
  .strictObject({
    host: z
      .string()
      .regex(/^[A-Za-z0-9.:-]+$/, 'must be a name or an address, without a scheme and a port')
      .describe('mail server that takes mail from this account'),
    port: z.int().min(1).max(65_535).optional().describe('left out: 587 for starttls, 465 for implicit'),
    security: z
      .enum(['starttls', 'implicit'])
      .default('starttls')
      .describe('starttls: TLS is asked for before anything is said; implicit: TLS from the first byte; never without'),
    ca: secretEntry
      .optional()
      .describe('PEM of an authority of your own, such as !secret file:plant-ca.pem; left out: the public ones'),
    username: z.string().min(1).max(256).optional(),
    password: secretEntry.optional().describe('better not in the file: !secret file:/path or !secret env:NAME'),
    from: address.describe('sender'),
    to: z.array(recipient).min(1).max(LIMITS.mail_recipients_max).describe('who gets what'),
    cleared: z.boolean().default(true).describe('also a mail when an alarm is over'),
    mails_per_hour: z
      .int()
      .min(1)
      .max(LIMITS.mails_per_hour_max)
      .default(12)
      .describe('more alarms than that leave together, in digests; half of it may leave at once'),
    page: z
      .string()
      .regex(/^https?:\/\/[^\s/@]+\/?$/, 'must be an address such as https://chillers.quay.example')
      .optional()
      .describe('where readers reach the page, for links; left out: no links'),
  })
  .superRefine((given, context) => {
    const [missing, there] = given.username === undefined ? ['username', 'password'] : ['password', 'username'];
    if ((given.username === undefined) !== (given.password === undefined)) {
      const message = `is missing: user and password come together, and ${there} is there`;
      context.addIssue({ code: 'custom', path: [missing], message, params: { code: 'config_key_missing' } });
    }
    if (given.ca !== undefined && !given.ca.reveal().includes('-----BEGIN CERTIFICATE-----')) {
      const message = 'holds no certificate: name a PEM file, such as !secret file:plant-ca.pem';
      context.addIssue({ code: 'custom', path: ['ca'], message });
    }
  });

export interface SiteMail {
  readonly host: string;
  readonly port: number;
  readonly security: MailSecurity;
  readonly ca: Secret | null;
  readonly login: { readonly username: string; readonly password: Secret } | null;
  readonly from: string;
  readonly to: readonly { readonly address: string; readonly priorities: readonly (1 | 2 | 3)[] }[];
  readonly cleared: boolean;
  readonly mails_per_hour: number;
  /** Without a slash at its end; null: no links. */
  readonly page: string | null;
}

/** Of a checked entry. */
export function siteMail(entry: z.output<typeof mailEntry>): SiteMail {
  const { host, security, from, to, cleared, mails_per_hour, username, password } = entry;
  return {
    host,
    port: entry.port ?? PORTS[security],
    security,
    ca: entry.ca ?? null,
    login: username === undefined || password === undefined ? null : { username, password },
    from,
    to,
    cleared,
    mails_per_hour,
    page: entry.page?.replace(/\/$/, '') ?? null,
  };
}
