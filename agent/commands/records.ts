import { once } from 'node:events';
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import type { CommandIo } from './io.ts';

/**
 * Reads NDJSON from standard input and answers one line of JSON for each record, in order: what `answer` gives, or
 * `{"error":{"code","message"}}` after which the rest goes on. Lines count from 1; blank lines are no records and get
 * no answer. A line longer than `LIMITS.line_bytes_max` is an error and is not kept in memory. Gives the number of
 * records answered with an error; ends early, and quietly, when `io.stop` is aborted or the reader of the output has
 * gone.
 */
export async function answerLines(
  io: CommandIo,
  answer: (record: unknown, lineNumber: number) => Result<object>,
): Promise<number> {
  let failed = 0;
  let gone = false;
  const onGone = (): void => {
    gone = true;
  };
  io.out.on('error', onGone);
  io.out.on('close', onGone);
  const stopReading = (): void => {
    io.in.destroy();
  };
  io.stop.addEventListener('abort', stopReading, { once: true });
  if (io.stop.aborted) stopReading();
  try {
    let number = 0;
    for await (const line of lines(io.in)) {
      number += 1;
      if (gone || io.stop.aborted) break;
      const record = line.ok
        ? parseLine(line.value, number)
        : fail('bad_record', `line ${number}: ${line.fault.message}`);
      if (record === null) continue;
      const answered = record.ok ? answer(record.value, number) : record;
      if (!answered.ok) failed += 1;
      const text = JSON.stringify(answered.ok ? answered.value : { error: answered.fault });
      if (!io.out.write(`${text}\n`)) await drained(io);
    }
  } catch (error) {
    // Destroying the input ends its iteration with an error; any other error is news.
    if (!io.stop.aborted) throw error;
  } finally {
    io.stop.removeEventListener('abort', stopReading);
    io.out.off('error', onGone);
    io.out.off('close', onGone);
  }
  return failed;
}

/** Waits until the output takes more, or is gone, or the work is stopped. */
export async function drained(io: CommandIo): Promise<void> {
  if (io.out.destroyed) return;
  const over = new AbortController();
  const waits = ['drain', 'close'].map((name) => once(io.out, name, { signal: over.signal }));
  const stopped = io.stop.aborted ? Promise.resolve() : once(io.stop, 'abort', { signal: over.signal });
  await Promise.race([...waits, stopped]).catch(() => undefined);
  over.abort();
  await Promise.allSettled([...waits, stopped]);
}

/** The record of a line; null for a blank line. */
function parseLine(line: Buffer, number: number): Result<unknown> | null {
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(line).trim();
  } catch {
    return fail('bad_record', `line ${number}: not UTF-8 text`);
  }
  if (text === '') return null;
  try {
    return ok(JSON.parse(text) as unknown);
  } catch (error) {
    return fail('bad_record', `line ${number}: not JSON (${error instanceof Error ? error.message : 'unreadable'})`);
  }
}

const NEWLINE = 10;

/** Lines of a byte stream without their ends, never holding more than one line of the greatest length. */
async function* lines(input: AsyncIterable<unknown>): AsyncGenerator<Result<Buffer>> {
  let kept: Buffer[] = [];
  let length = 0;
  let skipping = false;
  const take = (): Result<Buffer> => {
    const whole = skipping
      ? fail('bad_record', `longer than ${LIMITS.line_bytes_max} bytes`)
      : ok(kept.length === 1 ? (kept[0] as Buffer) : Buffer.concat(kept));
    kept = [];
    length = 0;
    skipping = false;
    return whole;
  };
  for await (const chunk of input) {
    const bytes = Buffer.isBuffer(chunk) ? chunk : Buffer.from(String(chunk));
    let from = 0;
    while (from < bytes.length) {
      const found = bytes.indexOf(NEWLINE, from);
      const end = found === -1 ? bytes.length : found;
      length += end - from;
      if (length > LIMITS.line_bytes_max) {
        skipping = true;
        kept = [];
      } else if (end > from) kept.push(bytes.subarray(from, end));
      if (found === -1) break;
      yield take();
      from = end + 1;
    }
  }
  if (length > 0) yield take();
}
