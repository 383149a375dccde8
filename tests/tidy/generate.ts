/** Generated documents: `npm run generate` writes them, a test makes them again and compares. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { ERRORS } from '../../agent/base/errors.ts';
import { generated as siteDocuments } from '../../agent/config/json-schema.ts';
import { ALARMS, alarmsText } from './alarms.ts';
import { ASYNCAPI, asyncapi } from './api/asyncapi.ts';
import { OPENAPI, openapi } from './api/openapi.ts';
import { CATALOGUE, catalogueText } from './catalogue.ts';
import { RUNBOOK, runbook } from './codes.ts';

export interface Generated {
  readonly path: string;
  make(): string;
}

export const GENERATED: readonly Generated[] = [
  { path: RUNBOOK, make: () => runbook(ERRORS) },
  ...Object.keys(siteDocuments()).map((path) => ({ path, make: () => siteDocuments()[path] ?? '' })),
  { path: CATALOGUE, make: catalogueText },
  { path: ALARMS, make: alarmsText },
  { path: OPENAPI, make: openapi },
  { path: ASYNCAPI, make: asyncapi },
];

if (import.meta.main) {
  const root = new URL('../..', import.meta.url).pathname;
  for (const { path, make } of GENERATED) {
    mkdirSync(dirname(join(root, path)), { recursive: true });
    writeFileSync(join(root, path), make());
    console.log(path);
  }
}
