import { PassThrough, Readable, Writable } from 'node:stream';
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { fail, ok } from '../../../agent/base/result.ts';
import { answerLines } from '../../../agent/commands/records.ts';

/** Runs over the chunks and gives the answers and the count. */
async function answers(chunks: (string | Buffer)[], answer = (record: unknown, line: number) => ok({ record, line })) {
  const out = new PassThrough();
  const text: Buffer[] = [];
  out.on('data', (chunk: Buffer) => text.push(chunk));
  const io = { in: Readable.from(chunks), out, err: new PassThrough(), stop: new AbortController().signal };
  const failed = await answerLines(io, answer);
  const lines = Buffer.concat(text).toString().split('\n');
  expect(lines.pop()).toBe('');
  return { failed, lines: lines.map((line) => JSON.parse(line) as Record<string, unknown>) };
}

describe('records', () => {
  test('a line for each record, in order, however the bytes are cut', async () => {
    const text = Buffer.from('{"a":1}\r\n{"b":"é"}\n[3]\n');
    for (const size of [1, 2, 5, 100]) {
      const chunks = Array.from({ length: Math.ceil(text.length / size) }, (_, i) =>
        text.subarray(i * size, (i + 1) * size),
      );
      const { failed, lines } = await answers(chunks);
      expect(failed).toBe(0);
      expect(lines).toStrictEqual([
        { record: { a: 1 }, line: 1 },
        { record: { b: 'é' }, line: 2 },
        { record: [3], line: 3 },
      ]);
    }
  });

  test('the last line needs no end, blank lines are no records, a byte-order mark is no text', async () => {
    const { failed, lines } = await answers(['\uFEFF1\n\n  \n2']);
    expect(failed).toBe(0);
    expect(lines).toStrictEqual([
      { record: 1, line: 1 },
      { record: 2, line: 4 },
    ]);
    expect((await answers([''])).lines).toStrictEqual([]);
    expect((await answers([])).lines).toStrictEqual([]);
  });

  test('a bad line is answered with what is wrong, and the rest goes on', async () => {
    const { failed, lines } = await answers(['{"a":\n', Buffer.from([0xff, 0xfe, 10]), '7\n']);
    expect(failed).toBe(2);
    expect(lines[0]).toMatchObject({
      error: { code: 'bad_record', message: expect.stringContaining('line 1: not JSON') },
    });
    expect(lines[1]).toMatchObject({
      error: { code: 'bad_record', message: expect.stringContaining('line 2: not UTF-8') },
    });
    expect(lines[2]).toStrictEqual({ record: 7, line: 3 });
  });

  test("the verb's own faults are answered and counted", async () => {
    const { failed, lines } = await answers(['1\n2\n'], ((record: unknown) =>
      record === 1 ? fail('bad_record', 'one') : ok({ record })) as never);
    expect(failed).toBe(1);
    expect(lines).toStrictEqual([{ error: { code: 'bad_record', message: 'one' } }, { record: 2 }]);
  });

  test('a line too long is refused without being kept; the next one is answered', async () => {
    const half = 'x'.repeat(LIMITS.line_bytes_max / 2 + 1);
    const { failed, lines } = await answers([half, half, half, '\n8\n']);
    expect(failed).toBe(1);
    expect(lines[0]).toMatchObject({ error: { code: 'bad_record', message: expect.stringContaining('longer than') } });
    expect(lines[1]).toStrictEqual({ record: 8, line: 2 });
  });

  test('a slow reader is waited for', async () => {
    let seen = 0;
    const out = new Writable({
      highWaterMark: 16,
      write(_chunk, _encoding, done) {
        seen += 1;
        setImmediate(done);
      },
    });
    const io = {
      in: Readable.from(['1\n'.repeat(50)]),
      out,
      err: new PassThrough(),
      stop: new AbortController().signal,
    };
    expect(await answerLines(io, (record) => ok({ record }))).toBe(0);
    expect(out.writableLength).toBeLessThan(100);
    await new Promise((resolve) => out.end(resolve));
    expect(seen).toBe(50);
  });

  test('a reader that has gone ends it quietly', async () => {
    const out = new Writable({
      highWaterMark: 1,
      write(_chunk, _encoding, done) {
        done(new Error('EPIPE'));
      },
    });
    const io = {
      in: Readable.from(Array(50).fill('1\n')),
      out,
      err: new PassThrough(),
      stop: new AbortController().signal,
    };
    let asked = 0;
    await answerLines(io, (record) => {
      asked += 1;
      return ok({ record });
    });
    expect(asked).toBeLessThan(50);
  });

  test('the stop signal ends it while the input is still open', async () => {
    const stop = new AbortController();
    const input = new PassThrough();
    const io = { in: input, out: new PassThrough().resume(), err: new PassThrough(), stop: stop.signal };
    input.write('1\n');
    const done = answerLines(io, (record) => {
      setImmediate(() => stop.abort());
      return ok({ record });
    });
    expect(await done).toBe(0);
  });
});
