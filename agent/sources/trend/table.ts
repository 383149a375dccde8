/** How one export's table is written: its column names, and where in a line the time and the readings stand. */
import { cells, separatorOf } from '../../base/cells.ts';
import { fail, ok, type Result } from '../../base/result.ts';
import { separatorText, type TrendMapFile } from '../../site/trend-map.ts';
import type { Line } from './lines.ts';
import { LocalTimes, offsetsOf, type ReadTime, type TimeParser, timeParser } from './times.ts';

export interface TableHeader {
  readonly names: readonly string[];
  readonly separator: string;
  /** Words of the line of units by column name; empty where there is none. */
  readonly units: Readonly<Record<string, string>>;
  readonly time: readonly number[];
  /** Long form: where name, value and status stand. */
  readonly name: number | null;
  readonly value: number | null;
  readonly status: number | null;
}

/** Text of a line without the mark that some writers put before the first. */
export function textOf({ number, text }: Line): string | null {
  return number === 1 && text !== null ? text.replace(/^\uFEFF/, '') : text;
}

/** The header of a table; `above` are its lines down to the last that is none of its data. Faults: `trend_file`. */
export function readHeader(above: readonly Line[], map: TrendMapFile, file: string): Result<TableHeader> {
  const { header_line, units_line } = map.file;
  const at = (number: number): string => textOf(above.find((each) => each.number === number) ?? NO_LINE) ?? '';
  const header = at(header_line);
  if (header.trim() === '')
    return fail(
      'trend_file',
      `${file}:${header_line}: there are no column names; file.header_line of the map says where`,
    );
  const separator = separatorText(map.file.separator) ?? separatorOf(header);
  const names = cells(header, separator);
  const place = (name: string): Result<number> => {
    const found = names.indexOf(name);
    const there = `${names.slice(0, 12).join(', ')}${names.length > 12 ? ', ...' : ''}`;
    if (found < 0) return fail('trend_file', `${file}:${header_line}: no column '${name}'; there are ${there}`);
    if (names.includes(name, found + 1))
      return fail('trend_file', `${file}:${header_line}: two columns are named '${name}'`);
    return ok(found);
  };
  const places = new Map<string, number>();
  const { long, status, time } = map;
  const timeColumns = typeof time.column === 'string' ? [time.column] : time.column;
  const wanted = [...timeColumns, long?.name, long?.value, status?.column].filter((name) => name !== undefined);
  for (const name of wanted) {
    const found = place(name);
    if (!found.ok) return found;
    places.set(name, found.value);
  }
  const words = units_line === undefined ? [] : cells(at(units_line), separator);
  const units = Object.fromEntries(names.flatMap((name, index) => (words[index] ? [[name, words[index]]] : [])));
  const placed = (name: string | undefined): number | null => (name === undefined ? null : (places.get(name) ?? null));
  return ok({
    names,
    separator,
    units,
    time: timeColumns.map((name) => places.get(name) as number),
    name: placed(long?.name),
    value: placed(long?.value),
    status: placed(status?.column),
  });
}

const NO_LINE: Line = { number: 0, text: null };

export interface TrendClock {
  readonly parse: TimeParser;
  readonly times: LocalTimes;
}

/** How the map's times are read, from the first line on. `zone`: of the site. Faults: `trend_file`. */
export function trendClock({ time }: TrendMapFile, zone: string, file: string): Result<TrendClock> {
  const parse = timeParser(time.format);
  if (typeof parse === 'string') return fail('trend_file', `${file}: time.format '${time.format}' ${parse}`);
  const offsets = offsetsOf(time.zone ?? zone);
  if (offsets === null)
    return fail(
      'trend_file',
      `${file}: time.zone '${time.zone}' is neither UTC, an offset such as +01:00, nor an IANA name`,
    );
  return ok({ parse, times: new LocalTimes(offsets, time.repeated_hour) });
}

/** A data line taken apart, with its instant, or why it is none. */
export type TableRow =
  | { readonly ok: true; readonly time: number; readonly repeated: boolean; readonly cells: readonly string[] }
  | { readonly ok: false; readonly reason: string }
  | null;

/** Null: a blank line. */
export function readRow(text: string, header: TableHeader, clock: TrendClock): TableRow {
  if (text.trim() === '') return null;
  const row = cells(text, header.separator);
  // Some writers end every line with a separator.
  if (row.length === header.names.length + 1 && row.at(-1) === '') row.pop();
  if (row.length !== header.names.length)
    return { ok: false, reason: `not ${header.names.length} cells, as there are column names` };
  const written = header.time.map((place) => row[place] as string).join(' ');
  const parsed = clock.parse(written);
  if (parsed === null) return { ok: false, reason: 'the time is not of the form that the map says' };
  const found: ReadTime =
    'instant' in parsed
      ? { ok: true, time: parsed.instant, repeated: false }
      : clock.times.instant(parsed.local, header.name === null ? '' : (row[header.name] as string));
  return found.ok ? { ...found, cells: row } : found;
}
