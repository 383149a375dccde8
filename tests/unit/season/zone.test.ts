/**
 * Goal: local days begin and end where the IANA time zone data base says; dates and hours of the changes below are
 * from that data base (files europe, northamerica, australasia, asia, africa).
 */
import { expect, test } from 'vitest';
import { dayStart, daysOf, HOUR, localDate, localTime, monthsOf, zoneOffsets } from '../../../agent/season/zone.ts';

const iso = (time: number): string => new Date(time).toISOString();
const at = (text: string): number => Date.parse(text);

test.each([
  // Rule EU: last Sunday of March and of October, 01:00 UTC.
  ['Europe/Lisbon', '2026-03-29', '2026-03-29T00:00:00.000Z', 23],
  ['Europe/Lisbon', '2026-10-25', '2026-10-24T23:00:00.000Z', 25],
  ['Europe/Berlin', '2026-03-29', '2026-03-28T23:00:00.000Z', 23],
  ['Europe/Berlin', '2026-10-25', '2026-10-24T22:00:00.000Z', 25],
  ['Europe/Berlin', '2026-07-01', '2026-06-30T22:00:00.000Z', 24],
  // Rule US: second Sunday of March, first Sunday of November, 02:00 local time.
  ['America/Chicago', '2026-03-08', '2026-03-08T06:00:00.000Z', 23],
  ['America/Chicago', '2026-11-01', '2026-11-01T05:00:00.000Z', 25],
  // Rule LH: half an hour.
  ['Australia/Lord_Howe', '2026-04-05', '2026-04-04T13:00:00.000Z', 24.5],
  ['Australia/Lord_Howe', '2026-10-04', '2026-10-03T13:30:00.000Z', 23.5],
  // Rule Lebanon: forward at midnight, so that the day begins at 01:00.
  ['Asia/Beirut', '2026-03-29', '2026-03-28T22:00:00.000Z', 23],
  ['Asia/Beirut', '2026-10-24', '2026-10-23T21:00:00.000Z', 25],
  // Rule Cuba: back from 01:00 to midnight, which there is then twice.
  ['America/Havana', '2026-11-01', '2026-11-01T04:00:00.000Z', 25],
  ['Asia/Kolkata', '2026-03-29', '2026-03-28T18:30:00.000Z', 24],
  ['Asia/Kathmandu', '2026-03-29', '2026-03-28T18:15:00.000Z', 24],
  ['UTC', '2026-03-29', '2026-03-29T00:00:00.000Z', 24],
])('%s, %s begins at %s and has %d hours', (zone, date, start, hours) => {
  const offsets = zoneOffsets(zone);
  const from = dayStart(date, offsets);
  expect(iso(from)).toBe(start);
  const next = dayStart(iso(at(`${date}T00:00:00Z`) + 24 * HOUR).slice(0, 10), offsets);
  expect((next - from) / HOUR).toBe(hours);
});

test('a date that a zone skipped has no day: Samoa, 30 December 2011', () => {
  const offsets = zoneOffsets('Pacific/Apia');
  const days = daysOf({ from: at('2011-12-29T12:00:00Z'), to: at('2012-01-01T00:00:00Z') }, offsets);
  expect(days.map(({ name }) => name)).toEqual(['2011-12-29', '2011-12-31', '2012-01-01']);
  expect(dayStart('2011-12-30', offsets)).toBe(dayStart('2011-12-31', offsets));
});

test('days of a span follow on each other, cut to it', () => {
  const offsets = zoneOffsets('Europe/Lisbon');
  const from = at('2026-03-28T10:30:00Z');
  const to = at('2026-04-02T05:00:00Z');
  const days = daysOf({ from, to }, offsets);
  expect([days[0]?.from, days.at(-1)?.to]).toEqual([from, to]);
  expect(days.map((day) => (day.to - day.from) / HOUR)).toEqual([13.5, 23, 24, 24, 24, 6]);
  expect(monthsOf(days).map(({ name, days: within }) => [name, within.length])).toEqual([
    ['2026-03', 4],
    ['2026-04', 2],
  ]);
});

test('local text', () => {
  const offsets = zoneOffsets('America/Chicago');
  expect(localTime(at('2026-11-01T06:59:59Z'), offsets)).toBe('2026-11-01 01:59');
  expect(localDate(at('2026-11-01T04:59:59Z'), offsets)).toBe('2026-10-31');
});
