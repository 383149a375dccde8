// Goal: a time of an export is read as its format says, and nothing else is taken for one. Instants by hand; the
// spreadsheet's day 46319 is 2026-10-24 (days since 1899-12-30: ISO/IEC 29500, 1900 date base system, from memory).
import { describe, expect, test } from 'vitest';
import { LocalTimes, offsetsOf, timeParser } from '../../../../agent/sources/trend/times.ts';

function parsed(format: string, text: string): number | null {
  const parse = timeParser(format);
  if (typeof parse === 'string') throw new Error(parse);
  const found = parse(text);
  if (found === null) return null;
  return 'instant' in found ? found.instant : found.local;
}

const AT = Date.UTC(2026, 9, 24, 13, 5, 0);

describe('formats', () => {
  test.each([
    ['rfc3339', '2026-10-24T13:05:00Z'],
    ['rfc3339', '2026-10-24T15:05:00+02:00'],
    ['rfc3339', '2026-10-24 13:05'],
    ['rfc3339', '2026-10-24T13:05:00.000'],
    ['unix_s', String(AT / 1000)],
    ['unix_ms', String(AT)],
    ['spreadsheet_days', String(46_319 + (13 * 60 + 5) / 1440)],
    ['DD.MM.YYYY HH:mm', '24.10.2026 13:05'],
    ['D/M/YY H:mm', '24/10/26 13:05'],
    ['M/D/YYYY h:mm a', '10/24/2026 1:05 PM'],
    ['M/D/YYYY h:mm:ss a', '10/24/2026 1:05:00 p.m.'],
    ['DD-MMM-YYYY HH:mm:ss', '24-Oct-2026 13:05:00'],
    ['D MMM YYYY HH:mm:ss.SSS', '24 October 2026 13:05:00.000'],
    ['YYYYMMDDHHmm', '202610241305'],
  ])('%s: %s', (format, text) => expect(parsed(format, text)).toBe(AT));

  test('noon and midnight of a clock with twelve hours', () => {
    expect(parsed('M/D/YYYY h:mm a', '10/24/2026 12:05 AM')).toBe(Date.UTC(2026, 9, 24, 0, 5));
    expect(parsed('M/D/YYYY h:mm a', '10/24/2026 12:05 PM')).toBe(Date.UTC(2026, 9, 24, 12, 5));
  });

  test('the end of a day written as its twenty-fourth hour', () => {
    expect(parsed('YYYY-MM-DD HH:mm', '2026-10-24 24:00')).toBe(Date.UTC(2026, 9, 25));
    expect(parsed('YYYY-MM-DD HH:mm', '2026-10-24 24:01')).toBeNull();
  });

  test.each([
    ['rfc3339', '24.10.2026 13:05'],
    ['rfc3339', '2026-13-01T00:00:00'],
    ['rfc3339', '2026-02-29 00:00'],
    ['rfc3339', ''],
    ['unix_s', String(AT)],
    ['unix_s', 'now'],
    ['spreadsheet_days', '5'],
    ['DD.MM.YYYY HH:mm', '10/24/2026 13:05'],
    ['DD.MM.YYYY HH:mm', '24.10.2026 13:05:00'],
    ['M/D/YYYY h:mm a', '10/24/2026 13:05 PM'],
    ['DD-MMM-YYYY HH:mm', '24-Okt-2026 13:05'],
  ])('%s does not take %s', (format, text) => expect(parsed(format, text)).toBeNull());

  test.each(['DD.MM.YYYY', 'HH:mm', 'M/D/YYYY h:mm', 'M/D/YYYY HH:mm a', 'DD.MM.YYYY HH:mm DD'])(
    '%s is no format',
    (format) => expect(typeof timeParser(format)).toBe('string'),
  );
});

test.each([
  ['UTC', 0],
  ['+01:00', 3_600_000],
  ['-03:30', -12_600_000],
  ['Europe/Berlin', 7_200_000],
])('zone %s', (zone, offset) => expect(offsetsOf(zone)?.(AT)).toBe(offset));

test('a zone that is none', () => expect(offsetsOf('Middle/Earth')).toBeNull());

test('a line out of order in the repeated hour is no change of the clocks', () => {
  const times = new LocalTimes(offsetsOf('Europe/Berlin') ?? (() => 0), 'order');
  // 25 October 2026, 02:00 to 03:00 comes twice: 00:00 and 01:00 UTC.
  const minute = (m: number): number => Date.UTC(2026, 9, 25, 2, m);
  const read = [0, 1, 2, 1, 3].map((m) => times.instant(minute(m), ''));
  expect(read.map((each) => (each.ok ? each.time : null))).toEqual(
    [0, 1, 2, 1, 3].map((m) => Date.UTC(2026, 9, 25, 0, m)),
  );
});
