/** The time-series store of a site: any that takes line protocol over HTTP, by either of its two ways of writing. */
import { z } from 'zod';
import { type Secret, secretEntry } from './secret.ts';

/** `v2`: /api/v2/write with bucket and token. `v1`: /write with database, user and password. */
export const INFLUX_WAYS = ['v2', 'v1'] as const;
export type InfluxWay = (typeof INFLUX_WAYS)[number];

/** Keys that belong to one way alone. */
const KEYS = {
  v2: ['bucket', 'organisation', 'token'],
  v1: ['database', 'retention_policy', 'username', 'password'],
} as const;
const NEEDED = { v2: 'bucket', v1: 'database' } as const;

const name = z
  .string()
  .min(1)
  .max(120)
  .regex(/^[^\p{Cc}]*$/u, 'must not have control characters');

export const influxEntry = z
  .strictObject({
    url: z
      .string()
      .regex(/^https?:\/\/[^\s/@?#]+(\/[^\s?#]*)?$/, {
        message: 'must be an address such as https://store.example:8086, without user, password and query',
      })
      .refine((url) => !/\/(api\/v2|write)\/*$/.test(url), {
        message: 'must end before /api/v2 or /write: the agent adds the path of its way of writing',
      })
      .describe('address of the store: http:// or https://'),
    api: z.enum(INFLUX_WAYS).default('v2').describe('v2: bucket and token; v1: database, user and password'),
    bucket: name.optional().describe('v2: where the figures go'),
    organisation: name.optional().describe('v2: whose bucket it is; left out where the store has none'),
    token: secretEntry.optional().describe('v2: better not in the file: !secret file:/path or !secret env:NAME'),
    database: name.optional().describe('v1: where the figures go'),
    retention_policy: name.optional().describe('v1: left out: the default of the database'),
    username: z.string().min(1).max(256).optional().describe('v1'),
    password: secretEntry.optional().describe('v1: better not in the file: !secret file:/path or !secret env:NAME'),
    measurement: z
      .string()
      .regex(/^[A-Za-z][A-Za-z0-9_]{0,63}$/, 'must be letters, digits and _, a letter first')
      .default('tonhour')
      .describe('name of the figures in the store, and first part of the other names'),
  })
  .superRefine((given, context) => {
    const { api } = given;
    const other = api === 'v2' ? 'v1' : 'v2';
    for (const key of KEYS[other])
      if (given[key] !== undefined) {
        const message = `belongs to api ${other}, and the api here is ${api}: take it out, or write \`api: ${other}\``;
        context.addIssue({ code: 'custom', path: [key], message });
      }
    const needed = NEEDED[api];
    if (given[needed] === undefined) {
      const message = `is missing: with api ${api} say by it where the figures go`;
      context.addIssue({ code: 'custom', path: [needed], message, params: { code: 'config_key_missing' } });
    }
    const [missing, there] = given.username === undefined ? ['username', 'password'] : ['password', 'username'];
    if ((given.username === undefined) !== (given.password === undefined)) {
      const message = `is missing: user and password come together, and ${there} is there`;
      context.addIssue({ code: 'custom', path: [missing], message, params: { code: 'config_key_missing' } });
    }
  });

export type SiteInflux = {
  readonly url: string;
  readonly measurement: string;
} & (
  | {
      readonly api: 'v2';
      readonly bucket: string;
      readonly organisation: string | null;
      readonly token: Secret | null;
    }
  | {
      readonly api: 'v1';
      readonly database: string;
      readonly retention_policy: string | null;
      readonly login: { readonly username: string; readonly password: Secret } | null;
    }
);

/** Of a checked entry. */
export function siteInflux(entry: z.output<typeof influxEntry>): SiteInflux {
  const { url, measurement, username, password } = entry;
  const common = { url, measurement };
  if (entry.api === 'v2')
    return {
      ...common,
      api: 'v2',
      bucket: entry.bucket ?? '',
      organisation: entry.organisation ?? null,
      token: entry.token ?? null,
    };
  return {
    ...common,
    api: 'v1',
    database: entry.database ?? '',
    retention_policy: entry.retention_policy ?? null,
    login: username === undefined || password === undefined ? null : { username, password },
  };
}
