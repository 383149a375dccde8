/** Goal: the files that people start from are good, complete, and cannot fall behind the code. */
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { generated } from '../../../agent/config/json-schema.ts';
import { formatIssues, loadSite } from '../../../agent/config/load.ts';
import { POINTS } from '../../../agent/points/dictionary.ts';
import { knownKeys } from '../../../agent/site/known-keys.ts';
import { siteSchema } from '../../../agent/site/schema.ts';

const CONFIG = new URL('../../../config/', import.meta.url).pathname;
const text = (name: string): string => readFileSync(`${CONFIG}${name}`, 'utf8');
const TEMPLATE = text('template.yaml');

async function said(given: string): Promise<string> {
  const env = { X: 'x', HASH: `$2b$08$${'x'.repeat(53)}` }; // the form of a bcrypt hash
  const read = await loadSite('template.yaml', { env, readFile: async () => given });
  return read.ok ? 'ok' : formatIssues(read.fault);
}

describe('template', () => {
  test('is a good site file as it stands', async () => expect(await said(TEMPLATE)).toBe('ok'));

  test('and with every default in comments written out', async () => {
    const lines = TEMPLATE.split('\n').map((line) => line.replace(/^( *)# (?=(?: *- | {2,})?[a-z_]+:(?: |$))/, '$1'));
    const uncommented = lines
      .join('\n')
      .replace('!secret file:broker-password', '!secret env:X')
      .replace('!secret file:hash', '!secret env:HASH');
    const points =
      /^ {6}(?:chilled|condenser|evaporator|flash|tank|main|econom|hot|unit|oil|refrig|purge|outdoor)\w*\.\w+: [a-z]/;
    const kept = uncommented
      .split('\n')
      .filter((line) => !points.test(line) && !/^#? *yaml-language-server/.test(line));
    // The two ways to say the air pressure exclude each other and stay as they are.
    expect(await said(kept.join('\n'))).toBe('ok');
    expect(kept.join('\n')).toContain('\nmqtt:');
    expect(kept.join('\n')).toContain('\n    alarms:');
  });

  test('names every point of the dictionary', () => {
    expect(Object.keys(POINTS).filter((name) => !TEMPLATE.includes(` ${name}:`))).toEqual([]);
  });

  test.each([[[]], [['site']], [['mqtt']], [['chillers', 0]], [['chillers', 0, 'points', 'unit.power']]])(
    'or the README names every key of %j',
    (path) => {
      const words = `${TEMPLATE}\n${text('README.md')}`;
      const unnamed = knownKeys(siteSchema, path).filter((key) => !new RegExp(`\\b${key}\\b`).test(words));
      expect(unnamed.filter((key) => !UNADVERTISED.includes(key))).toEqual([]);
    },
  );
});

/** Keys for rare needs: in the JSON Schema alone. */
const UNADVERTISED = ['client_id'];

test.each(['kestrel-quay.yaml', 'lantern-yard.yaml'])('%s is a good site file', async (name) => {
  const read = await loadSite(name, { env: {}, readFile: async () => text(name) });
  expect(read.ok ? 'ok' : formatIssues(read.fault)).toBe('ok');
});

describe('JSON Schema', () => {
  test.each(Object.entries(generated()))('%s is as the code makes it (npm run generate)', (path, made) => {
    expect(readFileSync(new URL(`../../../${path}`, import.meta.url), 'utf8')).toBe(made);
  });

  test('knows keys, points and enumerations, and shows no secret type', () => {
    const schema = JSON.parse(text('site.schema.json'));
    const chiller = schema.properties.chillers.items;
    expect(chiller.additionalProperties).toBe(false);
    expect(chiller.properties.points.propertyNames.enum).toEqual(Object.keys(POINTS));
    expect(chiller.properties.machine.properties.arrangement.enum).toContain('parallel');
    expect(schema.properties.mqtt.properties.password.type).toBe('string');
    expect(schema.required).toEqual(['version', 'site', 'chillers']);
  });
});
