/**
 * Goal: credentials of the service manager (systemd: LoadCredential=, files in $CREDENTIALS_DIRECTORY) and authorities
 * of one's own are read as they are, and one that cannot be read is told by its name, without its value.
 */
import { chmodSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { formatIssues, loadSite, openSite } from '../../../agent/config/load.ts';
import { SECRET_BYTES_MAX } from '../../../agent/config/secrets.ts';
import { HEAD } from './least-site.ts';

const FOLDER = mkdtempSync(join(tmpdir(), 'secrets-'));
afterAll(() => rmSync(FOLDER, { recursive: true }));

const withPassword = (password: string): string => `${HEAD}mqtt: { url: 'mqtt://b', password: ${password} }\n`;

function put(name: string, text: string): string {
  const path = join(FOLDER, name);
  writeFileSync(path, text);
  return path;
}

async function said(path: string): Promise<string> {
  const result = await loadSite(path, { env: {} });
  return result.ok ? 'ok' : formatIssues(result.fault);
}

describe('credentials and authorities', () => {
  /** A folder as the service manager makes it for a service, and the site file that asks for the password there. */
  async function withCredential(make: (folder: string) => void): Promise<ReturnType<typeof openSite>> {
    const folder = mkdtempSync(join(FOLDER, 'credentials-'));
    const path = put('credential.yaml', withPassword('!secret credential:broker-password'));
    make(folder);
    return openSite(path, { env: { CREDENTIALS_DIRECTORY: folder } });
  }
  const stored = (content: string) => (folder: string) => writeFileSync(join(folder, 'broker-password'), content);
  const PLACE = 'credential.yaml:9: mqtt.password: the file broker-password';

  test.each([
    ['as it stands', 'hunter2'],
    ['without its line end', 'hunter2\n'],
    ['without the line end of another system', 'hunter2\r\n'],
  ])('a credential of the service is taken %s', async (_, content) => {
    const opened = await withCredential(stored(content));
    expect(opened.ok && opened.value.site.mqtt?.password?.reveal()).toBe('hunter2');
    expect(JSON.stringify(opened)).not.toContain('hunter2');
  });

  test('of a credential one line end goes, and blanks stay: they may belong to it', async () => {
    const opened = await withCredential(stored(' hunter 2 \n\n'));
    expect(opened.ok && opened.value.site.mqtt?.password?.reveal()).toBe(' hunter 2 \n');
  });

  test.each([
    ['missing', () => undefined, 'cannot be read (no such file): create it, readable by the agent'],
    ['empty', stored(''), 'is empty'],
    ['a line end alone', stored('\n'), 'is empty'],
    ['a folder', (folder: string) => mkdirSync(join(folder, 'broker-password')), 'cannot be read (it is a folder)'],
    [
      'a link to itself',
      (folder: string) => symlinkSync('broker-password', join(folder, 'broker-password')),
      'cannot be read (a link that leads to itself)',
    ],
    ['too large', stored('x'.repeat(SECRET_BYTES_MAX + 1)), 'cannot be read (too large)'],
  ])('a credential that is %s is told by its name', async (_, make, words) => {
    const opened = await withCredential(make);
    expect(opened.ok ? '' : formatIssues(opened.fault)).toContain(`${PLACE} ${words}`);
  });

  // Root reads everything: the test steps down to nobody for the moment where it runs as root.
  test('a credential without permission is told by its name', async () => {
    const root = process.geteuid?.() === 0;
    chmodSync(FOLDER, 0o755);
    try {
      const opened = await withCredential((folder) => {
        stored('hunter2')(folder);
        chmodSync(folder, 0o755);
        chmodSync(join(folder, 'broker-password'), 0o000);
        if (root) process.seteuid?.('nobody');
      });
      expect(opened.ok ? '' : formatIssues(opened.fault)).toContain(`${PLACE} cannot be read (no permission)`);
    } finally {
      if (root) process.seteuid?.(0);
    }
  });

  test.each([
    ['without the service manager', {}, 'broker-password'],
    ['outside its folder', { CREDENTIALS_DIRECTORY: '/run/credentials' }, '../shadow'],
    ['by a path', { CREDENTIALS_DIRECTORY: '/run/credentials' }, '/etc/hostname'],
  ])('there is no credential %s', async (_, env, name) => {
    const path = put('none.yaml', withPassword(`!secret credential:${name}`));
    const opened = await openSite(path, { env });
    expect(opened.ok ? '' : formatIssues(opened.fault)).toContain(
      `none.yaml:9: mqtt.password: there is no credential ${name}: the service manager gives them (LoadCredential=`,
    );
  });

  const CERTIFICATE = '-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n';
  const withCa = `${HEAD}mqtt: { url: 'mqtts://b', ca: !secret file:plant-ca.pem }\n`;

  test('an authority of one’s own is read from its file, several lines as they are', async () => {
    put('plant-ca.pem', CERTIFICATE);
    const opened = await openSite(put('ca.yaml', withCa), { env: {} });
    expect(opened.ok && opened.value.site.mqtt?.ca?.reveal()).toBe(CERTIFICATE.trimEnd());
  });

  test('a key in the place of an authority is refused, and not shown', async () => {
    put('plant-ca.pem', CERTIFICATE.replaceAll('CERTIFICATE', 'PRIVATE KEY'));
    const text = await said(put('ca.yaml', withCa));
    expect(text).toContain('ca.yaml:9: mqtt.ca: holds no certificate: name a PEM file');
    expect(text).not.toContain('AAAA');
  });
});
