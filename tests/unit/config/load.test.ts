/** Goal: whatever stands in or behind a site file is answered, located, bounded, and without showing a secret. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { readFileBounded } from '../../../agent/config/files.ts';
import { formatIssues, loadSite, openSite } from '../../../agent/config/load.ts';
import { SECRET_BYTES_MAX } from '../../../agent/config/secrets.ts';
import { HEAD } from './least-site.ts';

const FOLDER = mkdtempSync(join(tmpdir(), 'site-'));
afterAll(() => rmSync(FOLDER, { recursive: true }));

function put(name: string, text: string): string {
  const path = join(FOLDER, name);
  writeFileSync(path, text);
  return path;
}

async function said(path: string, env = {}): Promise<string> {
  const result = await loadSite(path, { env });
  return result.ok ? 'ok' : formatIssues(result.fault);
}

describe('the file itself', () => {
  test('missing, a folder, too large', async () => {
    expect(await said(join(FOLDER, 'none.yaml'))).toContain('none.yaml: cannot be read (no such file)');
    expect(await said(FOLDER)).toContain('cannot be read (it is a folder)');
    const large = put('large.yaml', `${HEAD}# ${'x'.repeat(LIMITS.site_file_bytes_max)}\n`);
    expect(await said(large)).toContain('cannot be read (too large)');
  });

  test('exactly at the bound is read whole', async () => {
    const path = put('full.yaml', 'x'.repeat(1000));
    expect(await readFileBounded(path, 1000)).toHaveLength(1000);
    await expect(readFileBounded(path, 999)).rejects.toMatchObject({ code: 'EFBIG' });
  });

  test('bytes that are no text, and a mark at the beginning', async () => {
    const path = join(FOLDER, 'bytes.yaml');
    writeFileSync(
      path,
      Uint8Array.from({ length: 300 }, (_, index) => (index * 37) % 256),
    );
    expect(await said(path)).toMatch(/bytes\.yaml:\d+: /);
    expect(await said(put('marked.yaml', `\uFEFF${HEAD}`))).toBe('ok');
  });

  test('line ends of the other kind', async () => {
    expect(await said(put('crlf.yaml', HEAD.replaceAll('\n', '\r\n')))).toBe('ok');
  });
});

describe('lines', () => {
  test('a mistake under an anchor is told where it was written and where it is used', async () => {
    const text = `${HEAD}      unit.power: &p
        address: { table: input, register: 1 }
        unit: kw
      main_compressor.power: *p
`;
    const lines = (await said(put('alias.yaml', text))).replaceAll(`${FOLDER}/`, '').split('\n');
    const wrong = "unknown unit 'kw': use W, kW, MW, ton, hp; the nearest known is 'kW'";
    expect(lines.slice(0, 3)).toEqual([
      `alias.yaml:11: chillers[0].points.unit.power.unit: ${wrong}`,
      `alias.yaml:12: chillers[0].points.main_compressor.power.unit: ${wrong}`,
      'alias.yaml:12: chillers[0].points.main_compressor.power.address: unit.power is read from input 1 of unit 1 ' +
        'already: give each point its own register (the other is line 10)',
    ]);
  });
});

describe('secrets', () => {
  const withPassword = (password: string): string => `${HEAD}mqtt: { url: 'mqtt://b', password: ${password} }\n`;

  test('from a file beside the site file, without its line end', async () => {
    put('password', 'hunter2\n');
    const opened = await openSite(put('secret.yaml', withPassword('!secret file:password')), { env: {} });
    expect(opened.ok && opened.value.site.mqtt?.password?.reveal()).toBe('hunter2');
    expect(JSON.stringify(opened)).not.toContain('hunter2');
  });

  test('from the environment', async () => {
    const result = await loadSite(put('env.yaml', withPassword('!secret env:PW')), { env: { PW: 'hunter2' } });
    expect(result.ok && result.value.mqtt?.password?.reveal()).toBe('hunter2');
  });

  test.each([
    ['!secret file:nothing-there', 'the file nothing-there cannot be read (no such file)'],
    ['!secret file:empty', 'the file empty is empty'],
    ['!secret file:big', 'the file big cannot be read (too large)'],
    ['!secret env:NOT_SET', 'the environment has no NOT_SET: set it'],
  ])('%s', async (tag, words) => {
    put('empty', '\n');
    put('big', 'x'.repeat(SECRET_BYTES_MAX + 1));
    const text = await said(put('bad.yaml', withPassword(tag)));
    expect(text).toContain(`bad.yaml:9: mqtt.password: ${words}`);
    expect(text.split('\n')).toHaveLength(2);
  });
});
