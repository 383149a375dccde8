/** Lines of a file with their numbers, one part of it in memory at a time. */
import { open } from 'node:fs/promises';
import { LIMITS } from '../../base/limits.ts';

export interface Line {
  /** From 1. */
  readonly number: number;
  /** Null: longer than a line may be. */
  readonly text: string | null;
}

export interface LinesOptions {
  readonly encoding: string;
  /** Told how many bytes were read so far. */
  readonly onBytes?: (bytes: number) => void;
  readonly stop?: AbortSignal;
}

const PART_BYTES = 256 * 1024;

/** Batches of lines; throws what the file system says. An aborted `stop` ends it early. */
export async function* linesOf(path: string, { encoding, onBytes, stop }: LinesOptions): AsyncGenerator<Line[]> {
  const handle = await open(path, 'r');
  try {
    const decoder = new TextDecoder(encoding);
    const buffer = new Uint8Array(PART_BYTES);
    let rest = '';
    let [number, read, skipping] = [0, 0, false];
    for (;;) {
      if (stop?.aborted === true) return;
      const { bytesRead } = await handle.read(buffer, 0, buffer.length, null);
      read += bytesRead;
      const ended = bytesRead === 0;
      const parts = (rest + decoder.decode(buffer.subarray(0, bytesRead), { stream: !ended })).split('\n');
      rest = ended ? '' : (parts.pop() as string);
      if (ended && parts.at(-1) === '' && !skipping) parts.pop();
      const lines: Line[] = [];
      for (const part of parts) {
        number += 1;
        const long = skipping || part.length > LIMITS.line_bytes_max;
        skipping = false;
        lines.push({ number, text: long ? null : part.endsWith('\r') ? part.slice(0, -1) : part });
      }
      if (rest.length > LIMITS.line_bytes_max) [rest, skipping] = ['', true];
      onBytes?.(read);
      if (lines.length > 0) yield lines;
      if (ended) return;
    }
  } finally {
    await handle.close();
  }
}
