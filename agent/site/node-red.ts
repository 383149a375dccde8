/** Node-RED beside the agent: where it listens, who may enter, what it may use. */
import { z } from 'zod';
import { type Secret, secretEntry } from './secret.ts';

/** Modular crypt form of bcrypt: version, cost, 22 characters of salt and 31 of hash. */
const BCRYPT = /^\$2[aby]\$(?:0[89]|[12]\d|3[01])\$[./A-Za-z0-9]{53}$/;

export const nodeRedEntry = z.strictObject({
  folder: z
    .string()
    .min(1)
    .default('node-red')
    .describe('flows, installed nodes and Node-RED itself; relative to where the agent is started'),
  program: z
    .string()
    .min(1)
    .optional()
    .describe('folder of the package node-red; left out: node_modules/node-red below folder'),
  host: z
    .string()
    .min(1)
    .default('127.0.0.1')
    .describe('address to listen on; beyond loopback put a proxy with TLS before it'),
  port: z.int().min(1).max(65_535).default(1880),
  username: z
    .string()
    .regex(/^[^:\p{Cc}]{1,64}$/u, 'must be 1 to 64 characters without a colon')
    .describe('who may enter editor and HTTP endpoints'),
  password_hash: secretEntry
    .refine((secret) => BCRYPT.test(secret.reveal()), {
      message:
        'must be a bcrypt hash of cost 8 or more, never the password itself: `npx node-red admin hash-pw` makes one',
    })
    .describe('bcrypt hash of the password: !secret file:/path or !secret env:NAME'),
  memory_mb: z
    .int()
    .min(192)
    .max(65_536)
    .default(512)
    .describe('memory that it may hold, MB; beyond it it is ended and started anew'),
});

export interface SiteNodeRed {
  readonly folder: string;
  readonly program: string | null;
  readonly host: string;
  readonly port: number;
  readonly username: string;
  readonly password_hash: Secret;
  readonly memory_mb: number;
}

/** Of a checked entry. */
export function siteNodeRed({ program, ...entry }: z.output<typeof nodeRedEntry>): SiteNodeRed {
  return { ...entry, program: program ?? null };
}
