/** Names and numbers of the standard's enumerations, against the tables of two foreign stacks. */
import { createRequire } from 'node:module';
import { describe, expect, test } from 'vitest';
import { BACNET_POINT_OBJECTS, BACNET_POINT_PROPERTIES } from '../../../../agent/site/buses/bacnet.ts';
import {
  abortText,
  ERROR_CODES,
  errorText,
  OBJECT_KINDS,
  rejectText,
  reliabilityText,
  segmentationOf,
  UNITS,
} from '../../../../agent/sources/bacnet/names.ts';
import { DEVICE_OBJECT, PROPERTY } from '../../../../agent/sources/bacnet/services.ts';

const require = createRequire(import.meta.url);
type Tables = Readonly<Record<string, Readonly<Record<string, number>>>>;
const STACKS: Readonly<Record<string, Tables>> = {
  'node-bacnet': (require('node-bacnet') as { enum: Tables }).enum,
  '@bacnet-js/client': require('@bacnet-js/client') as Tables,
};

/** Both stacks write 1 to 3 names in their own way; compared are the letters. */
const letters = (name: string): string => name.toUpperCase().replace(/[^A-Z0-9]/g, '');

describe.each(Object.keys(STACKS))('as %s has them', (name) => {
  const tables = STACKS[name]!;
  /** Names of a number, since a table may have two. */
  const namesOf = (table: string, number: number): string[] =>
    Object.entries(tables[table]!)
      .filter(([, value]) => value === number)
      .map(([key]) => letters(key));
  const agree = (table: string, ours: readonly (readonly [number, string])[]): void => {
    expect(ours.length).toBeGreaterThan(0);
    for (const [number, text] of ours)
      expect([table, number, namesOf(table, number)]).toEqual([table, number, expect.arrayContaining([letters(text)])]);
  };
  const numbered = (table: Readonly<Record<number, string>>) =>
    Object.entries(table).map(([n, text]) => [Number(n), text] as const);
  const named = (table: Readonly<Record<string, number>>) =>
    Object.entries(table).map(([text, n]) => [n, text] as const);
  const range = (count: number, text: (number: number) => string) =>
    Array.from({ length: count }, (_, n) => [n, text(n)] as const);

  test('kinds of objects', () => {
    agree('ObjectType', [...named(BACNET_POINT_OBJECTS), ...numbered(OBJECT_KINDS), [DEVICE_OBJECT, 'device']]);
  });
  test('properties', () => {
    const used = Object.entries(PROPERTY).map(([text, n]) => [n, text] as const);
    agree('PropertyIdentifier', [...named(BACNET_POINT_PROPERTIES), ...used]);
  });
  test('errors', () => {
    agree('ErrorCode', numbered(ERROR_CODES));
    agree(
      'ErrorClass',
      range(8, (n) => errorText(n, 31).replace(/.*\((.*)\)/, '$1')),
    );
  });
  test('rejects and aborts', () => {
    agree(
      'RejectReason',
      range(10, (n) => rejectText(n).replace('rejected: ', '')),
    );
    agree(
      'AbortReason',
      range(12, (n) => abortText(n).replace('aborted: ', '')),
    );
  });
  test('reliability', () => {
    agree(
      'Reliability',
      range(16, reliabilityText).filter(([n]) => n !== 11),
    );
  });
  test('segmentation', () => {
    expect(range(4, segmentationOf).map(([, text]) => text)).toEqual(['both', 'transmit', 'receive', 'none']);
  });
  test('engineering units', () => {
    agree('EngineeringUnits', numbered(UNITS));
  });
});

test('what has no name keeps its number', () => {
  expect(errorText(1, 31)).toBe('error unknown-object (object)');
  expect(errorText(99, 999)).toBe('error number 999 (number 99)');
  expect([rejectText(64), abortText(64), reliabilityText(64)]).toEqual([
    'rejected: number 64',
    'aborted: number 64',
    'number 64',
  ]);
});
