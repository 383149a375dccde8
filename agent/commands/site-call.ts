/** The call of a verb that works on the history of a site: its flags, the site file, and the chiller asked for. */
import { type ParseArgsOptionsConfig, parseArgs } from 'node:util';
import { formatIssues, openSite } from '../config/load.ts';
import type { Site } from '../site/site.ts';
import type { CommandIo } from './io.ts';

/** Options that every such verb has. */
export const SITE_OPTIONS = {
  config: { type: 'string' },
  chiller: { type: 'string' },
  json: { type: 'boolean' },
} as const;

export type SiteFlags<T extends ParseArgsOptionsConfig> = ReturnType<
  typeof parseArgs<{ options: typeof SITE_OPTIONS & T }>
>['values'];

export interface Verb {
  readonly verb: string;
  readonly usage: string;
}

/** What the verb has to work on, or why not: said to the person, the exit code returned. */
export async function readSiteCall<T extends ParseArgsOptionsConfig>(
  args: readonly string[],
  { options, verb, io }: { readonly options: T; readonly verb: Verb; readonly io: CommandIo },
): Promise<{ readonly flags: SiteFlags<T>; readonly site: Site } | number> {
  let flags: SiteFlags<T>;
  let common: SiteFlags<Record<never, never>>;
  try {
    flags = parseArgs({ args: [...args], options: { ...SITE_OPTIONS, ...options } }).values;
    common = flags as typeof common;
  } catch (error) {
    return refuse(io, verb, (error as Error).message);
  }
  const { config, chiller } = common;
  if (config === undefined) return refuse(io, verb, '--config is missing');
  const opened = await openSite(config, { env: process.env });
  if (!opened.ok) {
    io.err.write(formatIssues(opened.fault));
    return 2;
  }
  const { site } = opened.value;
  if (chiller !== undefined && !site.chillers.some(({ id }) => id === chiller)) {
    const there = site.chillers.map(({ id }) => id).join(', ');
    return refuse(io, verb, `no chiller '${chiller}' in ${config}; there are ${there}`);
  }
  return { flags, site };
}

/** A call that is not understood: why, and how it goes. Exit code 2. */
export function refuse(io: CommandIo, { verb, usage }: Verb, message: string): number {
  io.err.write(`tonhour ${verb}: ${message}\n\n${usage}`);
  return 2;
}
