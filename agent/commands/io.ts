import type { Readable, Writable } from 'node:stream';

/**
 * What a verb may touch: results to `out`, logs and progress to `err`. Verbs return the exit code (0 done, 1 failed
 * or findings, 2 wrong usage or configuration); only `main.ts` ends the process.
 */
export interface CommandIo {
  readonly in: Readable;
  readonly out: Writable;
  readonly err: Writable;
  /** Aborted at the first SIGINT or SIGTERM. */
  readonly stop: AbortSignal;
}

/** One file of `commands/` exports one of these as `command`. */
export interface Command {
  readonly summary: string;
  readonly usage: string;
  run(args: readonly string[], io: CommandIo): Promise<number>;
}
