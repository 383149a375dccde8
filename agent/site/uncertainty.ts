/**
 * Standard uncertainty (k = 1) of a point: what the site file gives, else the dictionary's default, as an SI
 * difference and a relative part.
 */
import { z } from 'zod';
import { readQuantity, unitsFor } from '../base/quantity.ts';
import { type Dimension, differenceToSi, isUnit, unitOf } from '../base/units.ts';
import type { PointDefinition } from '../points/dictionary.ts';

const amount = z.union([z.string(), z.number()]);

export const uncertaintyEntry = z.union([
  z.string(),
  z.strictObject({
    absolute: amount.optional().describe('as a difference with its unit, such as 0.1 K'),
    relative: amount.optional().describe('share of the value, such as 1 %'),
    of_span: amount.optional().describe('share of the span, such as 0.5 %'),
  }),
]);
export type UncertaintyEntry = z.output<typeof uncertaintyEntry>;

export interface Uncertainty {
  /** SI difference. */
  readonly absolute: number;
  /** Share of the value. */
  readonly relative: number;
}

/** What is wrong, and with which key of the point. */
export interface Refusal {
  readonly key: string;
  readonly message: string;
}

type Read<T> = { readonly ok: true; readonly value: T } | ({ readonly ok: false } & Refusal);

const refuse = (key: string, message: string): { ok: false } & Refusal => ({ ok: false, key, message });

/**
 * A difference of a point's dimension to SI: kelvin or degF steps for temperatures, any unit of pressure for
 * pressures.
 */
export function readDifference(given: string | number, dimension: Dimension, key: string): Read<number> {
  const allowed: Dimension[] =
    dimension === 'temperature'
      ? ['temperature_difference']
      : dimension === 'pressure'
        ? ['pressure_difference', 'pressure']
        : [dimension];
  for (const each of allowed) {
    const read = readQuantity(given, each);
    if (typeof read === 'string') continue;
    if (read.value < 0) return refuse(key, `'${given}' is negative: give the size of the difference`);
    return { ok: true, value: differenceToSi(read.value, read.unit) };
  }
  return refuse(key, `'${given}' is not a difference here: use a number with ${allowed.flatMap(unitsFor).join(', ')}`);
}

function readShare(given: string | number, key: string): Read<number> {
  const read = readQuantity(given, 'fraction');
  if (typeof read === 'string') return refuse(key, `${read}; a share, such as 1 %`);
  const share = differenceToSi(read.value, read.unit);
  return share < 0 || share >= 1
    ? refuse(key, `'${given}' is not a share from 0 to below 100 %`)
    : { ok: true, value: share };
}

/**
 * The site's words to SI. A text is a difference (`0.1 K`) or a share (`1 %`): of the value for what is counted from
 * zero, of the full range for levels and positions (a power factor counts from zero). Pressures must say `% of span`
 * or `% of value`: the trade means either. `span` is in SI, null where unknown.
 */
export function readUncertainty(
  given: UncertaintyEntry | undefined,
  point: Pick<PointDefinition, 'dimension' | 'unit' | 'uncertainty'>,
  span: number | null,
): Read<Uncertainty> {
  if (given === undefined) return { ok: true, value: defaultUncertainty(point, span) };
  if (typeof given !== 'string') return readParts(given, point, span);
  const words = /^(.*?)\s+of\s+(span|value)\s*$/.exec(given);
  if (words !== null) {
    const key = words[2] === 'span' ? 'of_span' : 'relative';
    return readParts({ [key]: words[1] as string }, point, span);
  }
  const unit = /^\s*[-+.\deE]+\s*(\S+)\s*$/.exec(given)?.[1];
  const isShare = unit !== undefined && isUnit(unit) && unitOf(unit).dimension === 'fraction';
  const ofRange = point.dimension === 'fraction' && point.uncertainty.kind !== 'relative';
  if (!isShare || ofRange) return readParts({ absolute: given }, point, span);
  if (point.dimension === 'pressure')
    return refuse('uncertainty', `'${given}' of what? write '${given} of span' or '${given} of value'`);
  return readParts({ relative: given }, point, span);
}

function readParts(
  given: Exclude<UncertaintyEntry, string>,
  point: Pick<PointDefinition, 'dimension'>,
  span: number | null,
): Read<Uncertainty> {
  const parts = { absolute: 0, relative: 0 };
  if (given.absolute !== undefined) {
    const read = readDifference(given.absolute, point.dimension, 'uncertainty');
    if (!read.ok) return read;
    parts.absolute = read.value;
  }
  if (given.relative !== undefined) {
    if (point.dimension === 'temperature')
      return refuse('uncertainty', 'a share of a temperature means nothing: give kelvin');
    const read = readShare(given.relative, 'uncertainty');
    if (!read.ok) return read;
    parts.relative = read.value;
  }
  if (given.of_span !== undefined) {
    const read = readShare(given.of_span, 'uncertainty');
    if (!read.ok) return read;
    if (span === null) return refuse('uncertainty', 'a share of the span needs the key span');
    parts.absolute = Math.hypot(parts.absolute, read.value * span);
  }
  return { ok: true, value: parts };
}

/**
 * The dictionary's default. A share of the span needs the span: callers give the standard one where the site has
 * none.
 */
export function defaultUncertainty(
  point: Pick<PointDefinition, 'unit' | 'uncertainty'>,
  span: number | null,
): Uncertainty {
  const { uncertainty } = point;
  switch (uncertainty.kind) {
    case 'absolute':
      return { absolute: differenceToSi(uncertainty.value, point.unit), relative: 0 };
    case 'relative':
      return { absolute: 0, relative: uncertainty.value };
    case 'of_span':
      return { absolute: uncertainty.value * (span ?? 0), relative: 0 };
    case 'none':
      return { absolute: 0, relative: 0 };
  }
}
