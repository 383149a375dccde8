/**
 * Columns of a block as bytes: deflated JSON, which gives every number back exactly and takes about three bytes for one
 * of six digits.
 */
import { deflateRawSync, inflateRawSync } from 'node:zlib';

export function packColumn(column: readonly unknown[]): Uint8Array {
  return deflateRawSync(JSON.stringify(column));
}

export function unpackColumn(data: unknown): unknown[] {
  return JSON.parse(inflateRawSync(data as Uint8Array, { chunkSize: 4096 }).toString('utf8')) as unknown[];
}

/** Stands in a column where a minute had no entry of that name, apart from null for a value that is missing. */
export const ABSENT = '';

/** Kinds of columns, named as their keys in a record. The order is stored: add at the end. */
export const KINDS = ['values', 'uncertainty', 'quality', 'points', 'random_share'] as const;
