/**
 * Lays beside the compiled nodes what Node-RED reads of the package: templates of the editor, icons, examples, the
 * papers. `npm run build` runs it after the compiler; `npm pack ./nodes/dist` packs the outcome.
 */
import { cpSync, readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const here = (path: string): string => fileURLToPath(new URL(path, import.meta.url));

for (const file of readdirSync(here('.')).filter((name) => name.endsWith('.html')))
  cpSync(here(file), here(`dist/nodes/${file}`));
cpSync(here('icons'), here('dist/nodes/icons'), { recursive: true });
for (const name of ['examples', 'package.json', 'README.md'])
  cpSync(here(name), here(`dist/${name}`), { recursive: true });
cpSync(here('../LICENSE'), here('dist/LICENSE'));
