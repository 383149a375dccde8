// Goal: nobody opens Node-RED beside the agent without a credential; who has not installed it learns what to do.
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { formatIssues, loadSite } from '../../../agent/config/load.ts';
import { findProgram } from '../../../agent/flows/program.ts';

// bcrypt, cost 8, of a password that nobody uses; the form is that of the crypt of OpenBSD.
const HASH = '$2b$08$abcdefghijklmnopqrstuu5Lo0g67CiD3M4RpN1BmBb4Crp5w7dbK';
const SITE = `version: 1
site: { id: s, name: S, time_zone: UTC, altitude: 0 m }
chillers:
  - id: CH-1
    machine: { refrigerant: R134a, arrangement: simple, rated_capacity: 900 ton }
    source: { modbus: { host: a } }
    points:
      unit.running: { address: { table: coil, register: 0 } }
`;

async function read(section: string) {
  return loadSite('site.yaml', { env: { HASH }, readFile: async () => `${SITE}${section}` });
}

describe('the section of the site file', () => {
  test('without it nothing is hosted', async () => {
    const site = await read('');
    expect(site.ok && site.value.node_red).toBeNull();
  });

  test('with a credential it is, on loopback, and the hash shows nowhere', async () => {
    const site = await read('node_red: { username: engineer, password_hash: !secret env:HASH }\n');
    expect(site.ok && site.value.node_red).toMatchObject({
      host: '127.0.0.1',
      port: 1880,
      memory_mb: 512,
      program: null,
    });
    expect(JSON.stringify(site)).not.toContain(HASH);
  });

  test.each([
    ['{}', /site\.yaml:9: node_red\.username: is missing.*\n.*node_red\.password_hash: is missing/],
    ['{ username: engineer }', /node_red\.password_hash: is missing/],
    ['{ username: engineer, password_hash: swordfish }', /never the password itself: `npx node-red admin hash-pw`/],
    ['{ username: engineer, password_hash: "" }', /never the password itself/],
    [`{ username: engineer, password_hash: "${HASH.replace('$08$', '$04$')}" }`, /cost 8 or more/],
    [`{ username: "a:b", password_hash: "${HASH}" }`, /without a colon/],
    [`{ username: engineer, password_hash: "${HASH}", memory_mb: 64 }`, /memory_mb: must be at least 192/],
    [`{ username: engineer, pasword_hash: "${HASH}" }`, /the nearest known is 'password_hash'/],
  ])('%s is refused', async (section, words) => {
    const site = await read(`node_red: ${section}\n`);
    const said = site.ok ? 'ok' : formatIssues(site.fault);
    expect(said).toMatch(words);
    expect(said).not.toContain('swordfish');
  });
});

describe('the program', () => {
  const folder = mkdtempSync(path.join(tmpdir(), 'tonhour-flows-'));
  afterAll(() => rmSync(folder, { recursive: true }));

  function put(name: string, version: string): void {
    mkdirSync(path.join(folder, name), { recursive: true });
    writeFileSync(path.join(folder, name, 'package.json'), JSON.stringify({ name: 'node-red', version }));
    writeFileSync(path.join(folder, name, 'red.js'), '');
  }

  test('none installed: the folder and the command', () => {
    const found = findProgram({ folder, program: null });
    expect(found.ok ? '' : found.fault.message).toContain(`in ${folder} run \`npm install node-red@5\``);
  });

  test('an older one says so, the right one is found, also elsewhere', () => {
    put('node_modules/node-red', '4.1.8');
    const old = findProgram({ folder, program: null });
    expect(old.ok ? '' : old.fault).toMatchObject({
      code: 'node_red_missing',
      message: expect.stringContaining('is 4.1.8'),
    });
    put('node_modules/node-red', '5.0.7');
    expect(findProgram({ folder, program: null })).toEqual({
      ok: true,
      value: path.join(folder, 'node_modules/node-red/red.js'),
    });
    put('elsewhere', '5.1.0');
    expect(findProgram({ folder, program: path.join(folder, 'elsewhere') }).ok).toBe(true);
  });

  test('a folder that holds something else is none', () => {
    const found = findProgram({ folder, program: path.join(folder, 'nowhere') });
    expect(found.ok ? '' : found.fault.message).toContain('correct node_red.program');
  });
});
