// Goal: the package for Node-RED and the project say the same: version, dependencies, one template and one help for
// each node, an icon of ours for each that the palette shows, and examples that a host can import.
import { describe, expect, test } from 'vitest';
import { PATHS, TREE, textOf } from './tree.ts';

interface Manifest {
  readonly version: string;
  readonly dependencies: Readonly<Record<string, string>>;
}
const project = JSON.parse(textOf('package.json')) as Manifest;
const nodes = JSON.parse(textOf('nodes/package.json')) as Manifest & {
  readonly keywords: readonly string[];
  readonly 'node-red': { readonly version: string; readonly nodes: Readonly<Record<string, string>> };
};
const types = Object.keys(nodes['node-red'].nodes);
const htmlOf = (type: string): string => textOf(`nodes/${type.replace('tonhour-', '')}.html`);

test('version and dependencies are those of the project', () => {
  expect(nodes.version).toBe(project.version);
  const { mqtt, yaml, zod } = project.dependencies;
  expect(nodes.dependencies).toEqual({ mqtt, yaml, zod });
  // What Node-RED's library of flows looks for.
  expect(nodes.keywords).toContain('node-red');
});

test('every node of the table has its file, and every file its place in the table', () => {
  const files = PATHS.filter((path) => /^nodes\/[^/]+\.html$/.test(path)).map((path) => path.replace('.html', ''));
  expect(types.map((type) => `nodes/${type.replace('tonhour-', '')}`).sort()).toEqual(files.sort());
  for (const file of files) expect(PATHS).toContain(`${file}.ts`);
  for (const [type, built] of Object.entries(nodes['node-red'].nodes))
    expect(built).toBe(`nodes/${type.replace('tonhour-', '')}.js`);
});

describe.each(types)('%s', (type) => {
  const html = htmlOf(type);

  test('has a template, a registration and help', () => {
    for (const part of ['data-template-name', 'data-help-name'])
      expect(html.split(`${part}="${type}"`)).toHaveLength(2);
    expect(html).toContain(`RED.nodes.registerType('${type}'`);
  });

  test('lists of its help are written so that the editor shows them as lists', () => {
    // As Node-RED 5 reads them: `: name (type) : text`, no colon in the text, one line each.
    const entries = html.split('\n').filter((line) => line.startsWith(': '));
    expect(entries.length).toBeGreaterThan(0);
    for (const line of entries) expect(line).toMatch(/^: [^:()]+ \([^:()]+\) : [^:]+$/);
  });

  test('every setting has a field, and every field its setting', () => {
    const prefix = html.includes("category: 'config'") ? 'node-config-input-' : 'node-input-';
    const fields = [...html.matchAll(/ id="([\w-]+)"/g)].map(([, id = '']) => id.replace(prefix, ''));
    const shown = new Set(fields.filter((id) => !id.endsWith('-editor')));
    const script = html.slice(html.indexOf('registerType'), html.indexOf('data-help-name'));
    const group = (key: string): string => new RegExp(`${key}: (\\{[^]*?\\}),?\\n`).exec(script)?.[1] ?? '';
    const block = script.slice(script.indexOf('defaults:'), script.search(/\n {2,6}(?:inputs|credentials|label):/));
    const settings = [...`${block} ${group('credentials')}`.matchAll(/(\w+): \{ (?:value|type)|(\w+): \{\n\s+value/g)];
    expect(new Set(settings.map(([, one, other]) => one ?? other))).toEqual(shown);
  });

  test('in the palette it has an icon that is there', () => {
    if (html.includes("category: 'config'")) return;
    const icon = /icon: '([^']+)'/.exec(html)?.[1];
    expect(PATHS).toContain(`nodes/icons/${icon}`);
  });
});

const examples = TREE.filter(({ path }) => path.startsWith('nodes/examples/'));

test('there is an example of every node that the palette shows', () => {
  const used = new Set(
    examples.flatMap(({ text }) => [...text.matchAll(/"type": "(tonhour-[a-z]+)"/g)].map(([, t]) => t)),
  );
  expect([...used].sort()).toEqual([...types].sort());
});

test.each(examples)('$path: wires lead somewhere, mistakes are caught', ({ text }) => {
  const flow = JSON.parse(text) as { id: string; type: string; wires?: string[][] }[];
  const ids = new Set(flow.map(({ id }) => id));
  expect(ids.size).toBe(flow.length);
  for (const to of flow.flatMap(({ wires }) => (wires ?? []).flat())) expect(ids).toContain(to);
  expect(flow.map(({ type }) => type)).toContain('catch');
});
