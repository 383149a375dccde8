/** `bundle`: one archive for those who help, without what is nobody's business. */
import { writeFile } from 'node:fs/promises';
import { text as textOf } from 'node:stream/consumers';
import { parseArgs, promisify } from 'node:util';
import { gzip } from 'node:zlib';
import { packTar } from 'modern-tar';
import { LIMITS } from '../base/limits.ts';
import { rfc3339 } from '../base/time.ts';
import { bundleFiles } from '../bundle.ts';
import { readFileBounded } from '../config/files.ts';
import type { Command, CommandIo } from './io.ts';
import { refuse } from './site-call.ts';

const MINUTES = 180;

const VERB = {
  verb: 'bundle',
  usage: `tonhour bundle --config FILE [--out FILE] [--minutes N] [--log FILE]

Writes a support bundle: versions, the site file without its private parts, status, the newest minutes, the journal of alarms, kinds of
work done, the log, and the runbook of every error code met. Names, addresses, users, passwords, tokens, free texts and
prices are taken out; look through it before you send it. Also for a site file that the agent refuses. Nothing is sent.

  --config FILE   the site file (config/README.md)
  --out FILE      the archive (left out: tonhour-bundle-TIME.tar.gz in this folder); an existing file is not written over
  --minutes N     newest minutes of each chiller (left out: ${MINUTES}, at most ${LIMITS.bundle_minutes_max})
  --log FILE      the agent's log, one JSON object a line; - reads it from standard input, such as
                  journalctl -u tonhour -o cat -n 5000 | tonhour bundle --config FILE --log -

Exit code 0: done. 1: the archive cannot be written. 2: wrong call.
`,
};

const OPTIONS = {
  config: { type: 'string' },
  out: { type: 'string' },
  minutes: { type: 'string' },
  log: { type: 'string' },
} as const;

export const command: Command = {
  summary: 'Support bundle of a site, without names, addresses and secrets',
  usage: VERB.usage,
  async run(args, io) {
    let flags: {
      config?: string | undefined;
      out?: string | undefined;
      minutes?: string | undefined;
      log?: string | undefined;
    };
    try {
      flags = parseArgs({ args: [...args], options: OPTIONS }).values;
    } catch (error) {
      return refuse(io, VERB, (error as Error).message);
    }
    const { config, log: logFile } = flags;
    if (config === undefined) return refuse(io, VERB, '--config is missing');
    const minutes = Number(flags.minutes ?? MINUTES);
    if (!Number.isInteger(minutes) || minutes < 1 || minutes > LIMITS.bundle_minutes_max)
      return refuse(io, VERB, `--minutes ${flags.minutes}: give a whole number from 1 to ${LIMITS.bundle_minutes_max}`);
    const log = await readLog(logFile, io);
    if (log instanceof Error) return refuse(io, VERB, `--log ${logFile}: ${log.message}`);
    const now = Date.now();
    const stamp = rfc3339(now).slice(0, 19).replace(/[-:]/g, '');
    const folder = `tonhour-bundle-${stamp}Z`;
    const files = await bundleFiles({ config, env: process.env, now, minutes, log });
    const out = flags.out ?? `${folder}.tar.gz`;
    try {
      await writeFile(out, await archive(folder, files, now), { flag: 'wx', mode: 0o600 });
    } catch (error) {
      io.err.write(`tonhour bundle: ${(error as Error).message}\n`);
      return 1;
    }
    io.out.write(`${out}\n`);
    io.err.write(`${files.map(({ name, text }) => `  ${name}  ${Buffer.byteLength(text)} bytes\n`).join('')}`);
    io.err.write('Look through it before you send it.\n');
    return 0;
  },
};

async function readLog(file: string | undefined, io: CommandIo): Promise<string | null | Error> {
  if (file === undefined) return null;
  try {
    if (file === '-') return await textOf(io.in);
    return await readFileBounded(file, LIMITS.bundle_log_read_bytes_max);
  } catch (error) {
    return error as Error;
  }
}

async function archive(
  folder: string,
  files: readonly { readonly name: string; readonly text: string }[],
  now: number,
): Promise<Uint8Array> {
  const mtime = new Date(now);
  const entries = files.map(({ name, text }) => {
    const body = Buffer.from(text, 'utf8');
    return {
      header: { name: `${folder}/${name}`, size: body.length, mode: 0o600, mtime, type: 'file' as const },
      body,
    };
  });
  return promisify(gzip)(await packTar(entries));
}
