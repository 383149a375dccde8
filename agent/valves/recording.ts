/** A recording of one loop as a table of text: header line, then one sample a line. */
import { cells, separatorOf } from '../base/cells.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { parseRfc3339 } from '../base/time.ts';
import type { FastColumns } from '../points/fast-window.ts';

export interface RecordingColumns {
  readonly time: string;
  readonly output: string;
  readonly measured: string;
  readonly setpoint: string | null;
  readonly position: string | null;
}

export interface Recording {
  readonly measured: FastColumns;
  readonly output: FastColumns;
  readonly setpoint: FastColumns | null;
  readonly position: FastColumns | null;
}

type Role = keyof RecordingColumns;

/**
 * Reads `text`; messages name `file` and line. An empty cell leaves that sample out; anything else that is no number is
 * an error, and so is a time that is not after the one before.
 */
export function readRecording(
  text: string,
  { file, columns }: { readonly file: string; readonly columns: RecordingColumns },
): Result<Recording> {
  const lines = text.replace(/^\uFEFF/, '').split(/\r\n|\n|\r/);
  const header = lines[0] ?? '';
  if (header.trim() === '') return fail('recording', `${file}:1: there is no line of column names`);
  const separator = separatorOf(header);
  const names = cells(header, separator);
  const places = new Map<Role, number>();
  for (const [role, name] of Object.entries(columns) as [Role, string | null][]) {
    if (name === null) continue;
    const place = names.indexOf(name);
    if (place < 0) return fail('recording', `${file}:1: no column '${name}'; there are ${names.join(', ')}`);
    if (names.indexOf(name, place + 1) >= 0) return fail('recording', `${file}:1: two columns are named '${name}'`);
    places.set(role, place);
  }
  const kept = new Map([...places.keys()].map((role) => [role, { times: [] as number[], values: [] as number[] }]));
  let newest = Number.NEGATIVE_INFINITY;
  for (let i = 1; i < lines.length; i++) {
    const line = lines[i] as string;
    if (line.trim() === '') continue;
    const row = cells(line, separator);
    const where = `${file}:${i + 1}`;
    if (row.length !== names.length)
      return fail('recording', `${where}: ${row.length} cells under ${names.length} column names`);
    const time = timeOf(row[places.get('time') as number] as string);
    if (time === null)
      return fail('recording', `${where}: time '${row[places.get('time') as number]}' is neither seconds nor RFC 3339`);
    if (time <= newest) return fail('recording', `${where}: the time is not after that of the sample before`);
    newest = time;
    for (const [role, place] of places) {
      const cell = row[place] as string;
      if (role === 'time' || cell === '') continue;
      const value = Number(cell);
      if (!Number.isFinite(value)) return fail('recording', `${where}: ${names[place]} '${cell}' is not a number`);
      kept.get(role)?.times.push(time);
      kept.get(role)?.values.push(value);
    }
  }
  const column = (role: Role): FastColumns | null => {
    const found = kept.get(role);
    return found === undefined
      ? null
      : { times: Float64Array.from(found.times), values: Float64Array.from(found.values) };
  };
  return ok({
    measured: column('measured') as FastColumns,
    output: column('output') as FastColumns,
    setpoint: column('setpoint'),
    position: column('position'),
  });
}

/** ms. */
function timeOf(cell: string): number | null {
  if (cell === '') return null;
  const seconds = Number(cell);
  return Number.isFinite(seconds) ? 1000 * seconds : parseRfc3339(cell);
}
