/** The JSON Schemas of the site file and of the map of a trend export, from the same source as the checks. */
import { z } from 'zod';
import { addressEntry, anyAddress } from '../site/addresses.ts';
import { siteSchema } from '../site/schema.ts';
import { trendMapSchema } from '../site/trend-map.ts';

/** Where the generated schemas lie, from the project's root. */
const SITE_SCHEMA = 'config/site.schema.json';
const TREND_MAP_SCHEMA = 'config/trend-map.schema.json';

/** Its text. */
export function siteJsonSchema(): string {
  const schema = z.toJSONSchema(siteSchema, {
    io: 'input',
    target: 'draft-2020-12',
    unrepresentable: 'any',
    override: ({ zodSchema, jsonSchema }) => {
      // `!secret file:PATH` is a text to an editor.
      if ((zodSchema._zod.def as { type: string }).type === 'custom') jsonSchema.type = 'string';
      // Of an address either bus is offered; which of them it must be follows from the source.
      if (Object.hasOwn(jsonSchema, 'additionalProperties') && isAddress(zodSchema)) {
        for (const key of ['type', 'propertyNames', 'additionalProperties'] as const) delete jsonSchema[key];
        const { $schema: _, ...either } = z.toJSONSchema(anyAddress, { io: 'input', target: 'draft-2020-12' });
        Object.assign(jsonSchema, either);
      }
    },
  });
  return `${JSON.stringify({ title: 'Tonhour site file', ...schema }, null, 2)}\n`;
}

function trendMapJsonSchema(): string {
  const schema = z.toJSONSchema(trendMapSchema, { io: 'input', target: 'draft-2020-12' });
  return `${JSON.stringify({ title: 'Tonhour map of a trend export', ...schema }, null, 2)}\n`;
}

function isAddress(schema: z.core.$ZodType): boolean {
  return schema._zod.def === addressEntry._zod.def;
}

/** Every generated file of this room: path from the project's root, and its text. */
export function generated(): Readonly<Record<string, string>> {
  return { [SITE_SCHEMA]: siteJsonSchema(), [TREND_MAP_SCHEMA]: trendMapJsonSchema() };
}
