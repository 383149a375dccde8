/**
 * The map of a trend export: how its table is written, what its times mean, and which column is which point. Keys
 * snake_case; the JSON Schema is made from it.
 */
import { z } from 'zod';
import { LIMITS } from '../base/limits.ts';
import { POINTS } from '../points/dictionary.ts';
import { fromZod, issue, type SiteIssue } from './issues.ts';

/** The newest version of the map that this program reads. */
export const TREND_MAP_VERSION = 1;

export const TIME_FORMATS = ['rfc3339', 'unix_s', 'unix_ms', 'spreadsheet_days'] as const;
export const REPEATED_HOUR = ['order', 'earlier', 'later', 'leave_out'] as const;
export const ENCODINGS = ['utf-8', 'utf-16le', 'windows-1252'] as const;
const SEPARATOR_WORDS = { comma: ',', semicolon: ';', tab: '\t', bar: '|' } as const;

/** As it stands in the table; YAML reads -9999 as a number. */
const word = z.union([z.string(), z.number()]).transform(String);

const line = z.int().min(1).max(10_000);
const seconds = z.number().gt(0);

const file = z
  .strictObject({
    form: z
      .enum(['wide', 'long'])
      .default('wide')
      .describe('wide: a column a point; long: a line a reading, with the name of its trend'),
    encoding: z.enum(ENCODINGS).default('utf-8').describe('how letters are written; a byte order mark is minded'),
    separator: z
      .enum(Object.keys(SEPARATOR_WORDS) as [keyof typeof SEPARATOR_WORDS])
      .optional()
      .describe('between cells; left out: what parts the column names'),
    decimal: z.enum(['point', 'comma']).default('point').describe('before the fraction of a number'),
    header_line: line.default(1).describe('line of the column names, from 1; lines above it are passed over'),
    units_line: line.optional().describe('line of units below the column names, where there is one'),
    missing: z
      .array(word)
      .max(64)
      .default([])
      .describe('what stands where nothing was measured, such as No data or -9999; empty cells always count so'),
  })
  .prefault({})
  .describe('how the table is written');

const time = z
  .strictObject({
    column: z
      .union([z.string().min(1), z.array(z.string().min(1)).min(1).max(2)])
      .describe('column of the time, or those of date and time of day'),
    format: z
      .string()
      .min(1)
      .max(60)
      .default('rfc3339')
      .describe(
        `${TIME_FORMATS.join(', ')}, or a pattern of YYYY YY MM M MMM DD D HH H hh h mm ss SSS a, such as DD.MM.YYYY HH:mm`,
      ),
    zone: z
      .string()
      .optional()
      .describe('UTC, an offset such as +01:00, or an IANA name; left out: the time zone of the site'),
    repeated_hour: z
      .enum(REPEATED_HOUR)
      .default('order')
      .describe(
        'the hour that comes twice when clocks go back: order takes the first pass for the earlier one; ' +
          'leave_out drops it',
      ),
  })
  .describe('what a time of the export means');

const long = z
  .strictObject({
    name: z.string().min(1).describe('column with the name of the trend'),
    value: z.string().min(1).describe('column with its value'),
  })
  .describe('long form: where name and value stand');

const status = z
  .strictObject({
    column: z.string().min(1),
    good: z.array(word).min(1).max(32).describe('what stands there beside a good reading, such as ok'),
  })
  .describe('long form: a column that says whether a reading is good; others count as missing');

const point = z.strictObject({
  column: z.string().min(1).describe('name of the column, or of the trend where the form is long'),
  unit: z.string().optional().describe('unit in the export; left out: what the column says in brackets'),
  reference: z
    .enum(['absolute', 'vented_gauge', 'sealed_gauge', 'converted'])
    .optional()
    .describe('pressures: what the export counts from; left out: as in the site file'),
  scale: z
    .number()
    .refine((value) => value !== 0, 'must not be 0')
    .default(1)
    .describe('value = written x scale + offset'),
  offset: z.number().default(0).describe('added after the scale, in the unit'),
  states: z
    .record(z.string(), z.number())
    .optional()
    .describe('numbers of the words that a state is written in, such as { Start: 1 }; on, off and the like are known'),
  hold_s: seconds
    .max(30 * 86_400)
    .optional()
    .describe('a reading stands for so long where none follows; for trends written on change'),
  frozen_s: seconds
    .max(30 * 86_400)
    .nullable()
    .optional()
    .describe('seconds of identical readings after which the point counts as frozen; null: never'),
});

const chiller = z.strictObject({
  points: z
    .partialRecord(z.enum(Object.keys(POINTS) as [string, ...string[]]), z.union([z.string().min(1), point]))
    .refine((given) => Object.keys(given).length > 0, 'must have at least one point')
    .describe('column of each point, or a group of keys with it'),
});

export const trendMapSchema = z
  .strictObject({
    version: z.literal(TREND_MAP_VERSION).describe('version of this file format'),
    file,
    time,
    long: long.optional(),
    status: status.optional(),
    interval_s: z
      .int()
      .min(LIMITS.interval_s_min)
      .max(LIMITS.interval_s_max)
      .optional()
      .describe('seconds of one interval; left out: of the site, or longer where the export is slower'),
    hold_s: seconds
      .max(30 * 86_400)
      .optional()
      .describe('as at a point, for all of them; left out: two and a half times the usual step of the export'),
    chillers: z.record(z.string(), chiller).describe('by the ids of the site file'),
  })
  .superRefine(({ file: { form, header_line, units_line }, long: columns, status: said }, context) => {
    const add = (path: string[], message: string): void => {
      context.addIssue({ code: 'custom', path, message });
    };
    if (form === 'long' && columns === undefined) add(['long'], 'is missing: say where name and value stand');
    if (form === 'wide' && columns !== undefined) add(['long'], 'belongs to form: long alone');
    if (form === 'wide' && said !== undefined) add(['status'], 'belongs to form: long alone');
    if (units_line !== undefined && units_line <= header_line)
      add(['file', 'units_line'], `must be below the line ${header_line} of the column names`);
  });

export type TrendMapFile = z.output<typeof trendMapSchema>;
export type TrendMapPoint = z.output<typeof point>;

/** A separator as it stands in the table; null where the table is to tell. */
export function separatorText(word: TrendMapFile['file']['separator']): string | null {
  return word === undefined ? null : SEPARATOR_WORDS[word];
}

/** A point's entry with all of its keys, whichever way it was written. */
export function mapPoint(entry: string | TrendMapPoint): TrendMapPoint {
  return typeof entry === 'string' ? { column: entry, scale: 1, offset: 0 } : entry;
}

export type TrendMapRead =
  | { readonly ok: true; readonly value: TrendMapFile }
  | { readonly ok: false; readonly fault: readonly SiteIssue[] };

/** The map by itself, or everything that is wrong with it. Never throws. */
export function readTrendMap(value: unknown): TrendMapRead {
  const version = versionIssue(value);
  if (version !== null) return { ok: false, fault: [version] };
  const parsed = trendMapSchema.safeParse(value, { reportInput: true });
  if (!parsed.success) return { ok: false, fault: fromZod(trendMapSchema, parsed.error).map(ofPoint) };
  return { ok: true, value: parsed.data };
}

function versionIssue(value: unknown): SiteIssue | null {
  if (typeof value !== 'object' || value === null || Array.isArray(value))
    return issue('config_value', [], 'is not a group of keys: begin with `version: 1`');
  const { version } = value as { version?: unknown };
  if (version === TREND_MAP_VERSION) return null;
  const message =
    version === undefined
      ? `is missing: begin the file with \`version: ${TREND_MAP_VERSION}\``
      : typeof version === 'number' && Number.isInteger(version) && version > TREND_MAP_VERSION
        ? `the file is version ${version}, this program reads up to ${TREND_MAP_VERSION}: update it`
        : `there is no version ${String(version)}: write \`version: ${TREND_MAP_VERSION}\``;
  return issue('config_version', ['version'], message);
}

/** An unknown key under `points` is an unknown point. */
function ofPoint(found: SiteIssue): SiteIssue {
  const isPoint = found.code === 'config_key_unknown' && found.path.length === 4 && found.path[2] === 'points';
  return isPoint
    ? { ...found, code: 'config_point_unknown', message: 'unknown point; config/catalogue.md has all' }
    : found;
}
