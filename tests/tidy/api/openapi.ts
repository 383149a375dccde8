/** The HTTP API as an OpenAPI 3.1 document. */
import { z } from 'zod';
import manifest from '../../../package.json' with { type: 'json' };
import { calloutPacket } from './callout.ts';
import {
  alarmsAnswer,
  diagramAnswer,
  faultAnswer,
  healthAnswer,
  historyFigure,
  now,
  plantFigure,
  seriesAnswer,
  siteFigure,
} from './schemas.ts';
import { seasonAnswer } from './season.ts';

export const OPENAPI = 'config/openapi.json';

/** JSON Schema 2020-12 as OpenAPI 3.1 and AsyncAPI 3.0 take it, without the `$schema` of a document of its own. */
export function schemaOf(schema: z.ZodType): Record<string, unknown> {
  const { $schema: _, ...rest } = z.toJSONSchema(schema, { target: 'draft-2020-12' });
  return rest;
}

const chiller = {
  name: 'chiller',
  in: 'path',
  required: true,
  description: 'Id of the chiller',
  schema: { type: 'string' },
};

function query(name: string, description: string, type: string, required = true): Record<string, unknown> {
  return { name, in: 'query', required, description, schema: { type } };
}

function answer(description: string, ref: string): { description: string; content: Record<string, unknown> } {
  return { description, content: { 'application/json': { schema: { $ref: `#/components/schemas/${ref}` } } } };
}

function text(description: string, type: string): Record<string, unknown> {
  return { description, content: { [type]: { schema: { type: 'string' } } } };
}

const unknown = answer('No such chiller, or nothing known of it yet', 'Fault');
const wrong = answer('The question is not understood', 'Fault');

const paths = {
  '/api/site': {
    get: {
      operationId: 'site',
      summary: 'The site, its chillers and the catalogue',
      responses: { 200: answer('The site', 'Site') },
    },
  },
  '/api/site/now': {
    get: {
      operationId: 'plant',
      summary: 'The machines together: sums and ratios of their newest minutes',
      responses: { 200: answer('The plant', 'Plant') },
    },
  },
  '/api/chillers/{chiller}/now': {
    get: {
      operationId: 'now',
      summary: 'The newest solved minute of a chiller',
      parameters: [chiller],
      responses: { 200: answer('The minute', 'Now'), 404: unknown },
    },
  },
  '/api/chillers/{chiller}/history': {
    get: {
      operationId: 'history',
      summary: 'History of one metric or point',
      parameters: [
        chiller,
        query('metric', 'Name of a metric or a point', 'string'),
        query('from', 'RFC 3339', 'string'),
        query('to', 'RFC 3339', 'string'),
        query('step', 'Width of a bucket in seconds; 0 gives every stored value', 'number', false),
      ],
      responses: { 200: answer('Buckets in order', 'History'), 400: wrong, 404: unknown },
    },
  },
  '/api/chillers/{chiller}/diagram': {
    get: {
      operationId: 'diagram',
      summary: 'Dome and isotherms of the refrigerant',
      parameters: [chiller],
      responses: { 200: answer('The diagram', 'Diagram'), 404: unknown },
    },
  },
  '/api/chillers/{chiller}/series': {
    get: {
      operationId: 'series',
      summary: 'What the page draws of the past, thinned',
      parameters: [chiller],
      responses: { 200: answer('The series', 'Series'), 404: unknown },
    },
  },
  '/api/season': {
    get: {
      operationId: 'season',
      summary:
        'What the chillers did over a period: energy, ton-hours, kW/ton, money, against the baseline; the chiller alone, without pumps and tower',
      parameters: [
        query('chiller', 'Id of one chiller; left out: all of them, and the plant as their sum', 'string', false),
        query('from', 'Local day (2026-07-01) or RFC 3339; left out: the first of this month', 'string', false),
        query('to', 'Local day, included, or RFC 3339; left out: now', 'string', false),
        query('step', 'hour, day (left out) or month', 'string', false),
        query('format', 'json (left out) or csv: one line a machine and step', 'string', false),
      ],
      responses: {
        200: {
          description: 'The season',
          content: {
            ...answer('', 'Season').content,
            'text/csv': { schema: { type: 'string' } },
          },
        },
        400: wrong,
        404: unknown,
        503: answer('The store cannot be read', 'Fault'),
      },
    },
  },
  '/api/alarms': {
    get: {
      operationId: 'alarms',
      summary: 'Alarms that are not normal, most urgent first',
      responses: { 200: answer('The alarms', 'Alarms') },
    },
  },
  '/api/chillers/{chiller}/callouts/{event}': {
    get: {
      operationId: 'callout',
      summary: 'The callout packet of an alarm; /callout/{chiller}/{event} is the same as a page',
      parameters: [
        chiller,
        {
          name: 'event',
          in: 'path',
          required: true,
          description: '<alarm> for the last time that it was raised, or <alarm>.<sequence>',
          schema: { type: 'string' },
        },
      ],
      responses: { 200: answer('The packet', 'Callout'), 404: unknown },
    },
  },
  '/api/live': {
    get: {
      operationId: 'live',
      summary:
        'Server-sent events: one `minute` for each solved minute, its data as `now` answers, then one `plant`, as /api/site/now',
      responses: { 200: text('The stream', 'text/event-stream'), 503: answer('Too many listen', 'Fault') },
    },
  },
  '/healthz': {
    get: {
      operationId: 'health',
      summary: 'Whether the agent does its job',
      responses: { 200: answer('It does', 'Health'), 503: answer('It does not', 'Health') },
    },
  },
  '/metrics': {
    get: {
      operationId: 'metrics',
      summary: "The agent's own metrics",
      responses: { 200: text('OpenMetrics', 'application/openmetrics-text') },
    },
  },
};

export function openapi(): string {
  const document = {
    openapi: '3.1.0',
    info: {
      title: 'Tonhour',
      version: manifest.version,
      description:
        'What the agent serves. Everything is read; nothing can be written to a controller. Values are in the units of the catalogue.',
      license: { name: 'Apache-2.0', identifier: 'Apache-2.0' },
    },
    servers: [
      { url: 'http://127.0.0.1:8047', description: 'As the site file says; loopback unless it says otherwise' },
    ],
    paths,
    components: {
      schemas: {
        Site: schemaOf(siteFigure),
        Plant: schemaOf(plantFigure),
        Now: schemaOf(now),
        History: schemaOf(historyFigure),
        Diagram: schemaOf(diagramAnswer),
        Series: schemaOf(seriesAnswer),
        Season: schemaOf(seasonAnswer),
        Callout: schemaOf(calloutPacket),
        Alarms: schemaOf(alarmsAnswer),
        Health: schemaOf(healthAnswer),
        Fault: schemaOf(faultAnswer),
      },
    },
  };
  return `${JSON.stringify(document, null, 2)}\n`;
}
