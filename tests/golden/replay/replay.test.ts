/**
 * Goal: whoever writes a map is told file, line, key, what is wrong and what to do, and what came of a good one.
 * Method: a case is a folder with the map, the export and the text that the person sees: the exit code, standard error,
 * standard output. Without an export the map alone is wrong; no map.yaml means that the file is missing. The site is
 * the example.
 */
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { describe, expect, test } from 'vitest';
import { command } from '../../../agent/commands/replay.ts';

const HERE = import.meta.dirname;
const SITE = join(HERE, '../../../config/kestrel-quay.yaml');
const CASES = readdirSync(HERE, { withFileTypes: true }).filter((entry) => entry.isDirectory());

describe('maps of trend exports', () => {
  test('there are cases', () => expect(CASES.length).toBeGreaterThanOrEqual(7));

  test.each(CASES.map(({ name }) => name))('%s', async (name) => {
    const folder = join(HERE, name);
    const out = mkdtempSync(join(tmpdir(), 'tonhour-golden-'));
    try {
      const io = { in: Readable.from([]), out: new PassThrough(), err: new PassThrough() };
      const trend = join(folder, 'trend.csv');
      const args = [existsSync(trend) ? trend : 'none.csv', '--config', SITE, '--map', join(folder, 'map.yaml')];
      const code = await command.run([...args, '--out', out], { ...io, stop: new AbortController().signal });
      const said = `${String(io.err.read() ?? '')}${String(io.out.read() ?? '')}`.replaceAll(`${folder}/`, '');
      const expected = readFileSync(join(folder, 'expected.txt'), 'utf8');
      expect(`exit code ${code}\n${said.replaceAll(out, 'OUT')}`).toBe(expected);
    } finally {
      rmSync(out, { recursive: true, force: true });
    }
  });
});
