/** The JSON Schema of the site file, for editors, from the same source as the checks. */
import { z } from 'zod';
import { siteSchema } from '../site/schema.ts';

/** Where the generated schema lies, from the project's root. */
const SITE_SCHEMA = 'config/site.schema.json';

/** Its text. */
export function siteJsonSchema(): string {
  const schema = z.toJSONSchema(siteSchema, {
    io: 'input',
    target: 'draft-2020-12',
    unrepresentable: 'any',
    override: ({ zodSchema, jsonSchema }) => {
      // `!secret file:PATH` is a text to an editor.
      if ((zodSchema._zod.def as { type: string }).type === 'custom') jsonSchema.type = 'string';
    },
  });
  return `${JSON.stringify({ title: 'Tonhour site file', ...schema }, null, 2)}\n`;
}

/** Every generated file of this room: path from the project's root, and its text. */
export function generated(): Readonly<Record<string, string>> {
  return { [SITE_SCHEMA]: siteJsonSchema() };
}
