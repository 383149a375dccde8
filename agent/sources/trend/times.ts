/**
 * Times of an export as instants: by a pattern, in a zone. Where clocks go back an hour comes twice, and only the order
 * of the lines tells which is meant; where they go forward an hour is not there at all.
 */
import { parseRfc3339 } from '../../base/time.ts';
import { DAY, HOUR, type Offsets, zoneOffsets } from '../../season/zone.ts';

/** What a time of the export turned out to be: ms since the epoch, or why it is none. */
export type ReadTime =
  | { readonly ok: true; readonly time: number; readonly repeated: boolean }
  | { readonly ok: false; readonly reason: string };

/** Local fields as if they were UTC, or an instant that needs no zone. */
type Parsed = { readonly local: number } | { readonly instant: number } | null;
export type TimeParser = (text: string) => Parsed;

const MONTHS = ['jan', 'feb', 'mar', 'apr', 'may', 'jun', 'jul', 'aug', 'sep', 'oct', 'nov', 'dec'];

const TOKENS: Readonly<Record<string, string>> = {
  YYYY: '(?<year>\\d{4})',
  YY: '(?<short>\\d{2})',
  MMM: '(?<name>[A-Za-z]{3})[a-z]*\\.?',
  MM: '(?<month>\\d{2})',
  M: '(?<month>\\d{1,2})',
  DD: '(?<day>\\d{2})',
  D: '(?<day>\\d{1,2})',
  HH: '(?<hour>\\d{2})',
  H: '(?<hour>\\d{1,2})',
  hh: '(?<hour>\\d{2})',
  h: '(?<hour>\\d{1,2})',
  mm: '(?<minute>\\d{2})',
  ss: '(?<second>\\d{2})',
  SSS: '(?<fraction>\\d{3})',
  a: '(?<half>[AaPp])\\.?[Mm]\\.?',
};
const TOKEN = /YYYY|YY|MMM|MM|M|DD|D|HH|H|hh|h|mm|ss|SSS|a/g;

const ISO = /^(\d{4})-(\d{2})-(\d{2})[T ](\d{2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?$/;

/** A parser of a format's times, or what is wrong with the format. */
export function timeParser(format: string): TimeParser | string {
  if (format === 'rfc3339') return parseIso;
  if (format === 'unix_s') return (text) => instantOf(text, 1000);
  if (format === 'unix_ms') return (text) => instantOf(text, 1);
  if (format === 'spreadsheet_days') return parseSerial;
  const tokens = format.match(TOKEN) ?? [];
  const has = (...names: string[]): boolean => tokens.some((token) => names.includes(token));
  if (!has('YYYY', 'YY') || !has('MM', 'M', 'MMM') || !has('DD', 'D') || !has('HH', 'H', 'hh', 'h') || !has('mm'))
    return 'must have year, month, day, hour and minute, such as DD.MM.YYYY HH:mm:ss';
  if (has('hh', 'h') !== has('a')) return 'hh or h goes with a (AM or PM), HH or H without';
  let pattern = '';
  let at = 0;
  for (const hit of format.matchAll(TOKEN)) {
    pattern += escaped(format.slice(at, hit.index)) + (TOKENS[hit[0]] as string);
    at = hit.index + hit[0].length;
  }
  let form: RegExp;
  try {
    form = new RegExp(`^${pattern}${escaped(format.slice(at))}$`);
  } catch {
    return 'names a part twice';
  }
  return (text) => parsePattern(form.exec(text)?.groups);
}

function escaped(text: string): string {
  return text.replaceAll(/[\\^$.*+?()[\]{}|]/g, '\\$&').replaceAll(/\s+/g, '\\s+');
}

function parseIso(text: string): Parsed {
  const parts = ISO.exec(text);
  if (parts === null) {
    const instant = parseRfc3339(text);
    return instant === null ? null : { instant };
  }
  const [, year, month, day, hour, minute, second = '0', fraction = '0'] = parts;
  return localOf([year, month, day, hour, minute, second].map(Number), Number(`0.${fraction}`));
}

function instantOf(text: string, scale: number): Parsed {
  const value = text === '' ? Number.NaN : Number(text);
  // A number of another unit lies far from any year that a machine was trended in.
  const instant = Math.round(value * scale);
  return Number.isFinite(instant) && Math.abs(instant) < 200 * 366 * DAY ? { instant } : null;
}

/** Days since 1899-12-30, as spreadsheets count them. */
function parseSerial(text: string): Parsed {
  const value = text === '' ? Number.NaN : Number(text.replace(',', '.'));
  if (!Number.isFinite(value) || value < 20_000 || value > 100_000) return null;
  return { local: Math.round((value - 25_569) * DAY) };
}

function parsePattern(found: Readonly<Record<string, string | undefined>> | undefined): Parsed {
  if (found === undefined) return null;
  const { year, short, name, month, day, hour, minute, second = '0', fraction = '0', half } = found;
  const named = name === undefined ? Number(month) : MONTHS.indexOf(name.toLowerCase()) + 1;
  let hours = Number(hour);
  if (half !== undefined) {
    if (hours < 1 || hours > 12) return null;
    hours = (hours % 12) + (/p/i.test(half) ? 12 : 0);
  }
  const years = year === undefined ? 2000 + Number(short) : Number(year);
  return localOf([years, named, Number(day), hours, Number(minute), Number(second)], Number(fraction) / 1000);
}

function localOf([year, month, day, hour, minute, second]: readonly (number | undefined)[], fraction: number): Parsed {
  const [y = 0, m = 0, d = 0, h = 0, min = 0, s = 0] = [year, month, day, hour, minute, second];
  if (m < 1 || m > 12 || d < 1 || h > 24 || min > 59 || s > 60) return null;
  const midnight = Date.UTC(y, m - 1, d);
  // A day that no calendar has (30 February) is refused, not moved on.
  if (new Date(midnight).getUTCDate() !== d) return null;
  const local = midnight + h * HOUR + min * 60_000 + s * 1000 + Math.round(fraction * 1000);
  return h === 24 && local !== midnight + DAY ? null : { local };
}

const OFFSET = /^([+-])(\d{2}):(\d{2})$/;

/** Offsets of a zone as maps name it: UTC, +01:00, or an IANA name; null where it is none. */
export function offsetsOf(zone: string): Offsets | null {
  const fixed = OFFSET.exec(zone);
  if (fixed !== null) {
    const ms = (fixed[1] === '-' ? -1 : 1) * (Number(fixed[2]) * HOUR + Number(fixed[3]) * 60_000);
    return () => ms;
  }
  if (zone === 'UTC') return () => 0;
  try {
    return zoneOffsets(zone);
  } catch {
    return null;
  }
}

export type RepeatedHour = 'order' | 'earlier' | 'later' | 'leave_out';

/** Instants of a stretch of local time: none where clocks jumped over it, two where they went back. */
interface Stretch {
  readonly offsets: readonly number[];
  readonly end: number;
}

const STRETCH = 15 * 60_000;

/** Where a series of lines stands: the last local time, and which pass of a repeated hour it is in. */
interface Course {
  local: number;
  step: number;
  later: boolean;
}

/** Local times to instants. One course for each series of lines that are in order by themselves. */
export class LocalTimes {
  readonly #offsets: Offsets;
  readonly #repeated: RepeatedHour;
  readonly #courses = new Map<string, Course>();
  #start = Number.NaN;
  #stretch: Stretch = { offsets: [], end: Number.NaN };

  constructor(offsets: Offsets, repeated: RepeatedHour) {
    this.#offsets = offsets;
    this.#repeated = repeated;
  }

  instant(local: number, series: string): ReadTime {
    const { offsets } = this.#at(local);
    let course = this.#courses.get(series);
    if (course === undefined) {
      course = { local, step: 0, later: false };
      this.#courses.set(series, course);
    }
    const moved = local - course.local;
    course.local = local;
    const [first, second] = offsets;
    if (first === undefined) return { ok: false, reason: 'that local time did not exist: clocks went forward over it' };
    if (second === undefined) {
      if (moved !== 0) course.step = moved;
      // Lines that run backwards meet the later pass first.
      course.later = course.step < 0;
      return { ok: true, time: local - first, repeated: false };
    }
    if (changesPass(course, moved, Math.abs(first - second))) course.later = course.step >= 0;
    else if (moved !== 0) course.step = moved;
    const later = this.#repeated === 'order' ? course.later : this.#repeated === 'later';
    if (this.#repeated === 'leave_out')
      return { ok: false, reason: 'the hour came twice that night: left out, as the map says' };
    const instants = [local - first, local - second];
    return { ok: true, time: later ? Math.max(...instants) : Math.min(...instants), repeated: true };
  }

  #at(local: number): Stretch {
    if (local >= this.#start && local < this.#stretch.end) return this.#stretch;
    this.#start = Math.floor(local / STRETCH) * STRETCH;
    // An offset holds at a local time where it is the zone's own at the instant that it gives.
    const candidates = new Set([this.#offsets(this.#start - DAY), this.#offsets(this.#start + DAY)]);
    const offsets = [...candidates].filter((offset) => this.#offsets(this.#start - offset) === offset);
    this.#stretch = { offsets, end: this.#start + STRETCH };
    return this.#stretch;
  }
}

/**
 * Whether the other pass of a repeated hour begins: time jumps against the way of the lines, or stands still in lines
 * that are an hour apart. Half of the overlap: a single line out of order is no change of the clocks.
 */
function changesPass({ step }: Course, moved: number, overlap: number): boolean {
  if (moved === 0) return Math.abs(step) >= overlap;
  const jump = step >= 0 ? -moved : moved;
  return jump >= overlap / 2 && jump <= overlap;
}
