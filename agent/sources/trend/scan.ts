/**
 * First look through an export, before anything is computed: its header, whether its lines are in order, from when to
 * when it reaches, how far apart its readings are, and which lines cannot be read. Keeps nothing of the data.
 */
import { fail, ok, type Result } from '../../base/result.ts';
import type { TrendMapFile } from '../../site/trend-map.ts';
import { type Line, linesOf } from './lines.ts';
import { readHeader, readRow, type TableHeader, textOf, trendClock } from './table.ts';
import { type Trouble, Troubles } from './troubles.ts';

export interface Scanned {
  readonly header: TableHeader;
  /** Trends of the long form, columns of the wide one. */
  readonly names: readonly string[];
  readonly lines: number;
  readonly rows: number;
  /** ms since the epoch. */
  readonly first: number;
  readonly last: number;
  /** Whether no line is before the one above it. */
  readonly ordered: boolean;
  /** Usual step between two readings of one series, s; null with fewer than two. */
  readonly step_s: number | null;
  /** Lines whose local time came twice that night. */
  readonly repeated_hour: number;
  readonly bad_lines: number;
  readonly troubles: readonly Trouble[];
}

export interface ScanOptions {
  readonly path: string;
  readonly map: TrendMapFile;
  /** Time zone of the site. */
  readonly zone: string;
  /** Name of the map's file, for what is wrong with it. */
  readonly mapFile: string;
  readonly onBytes?: (bytes: number) => void;
  readonly stop: AbortSignal;
}

/** Trends that a long export may name: what goes beyond is no list of points. */
const TRENDS_MAX = 10_000;
/** Steps that are looked at for the usual one. */
const STEPS_MAX = 20_000;

/** Faults: `trend_file`. Throws what the file system says. */
export async function scanTrend(options: ScanOptions): Promise<Result<Scanned>> {
  const { path, map, zone, mapFile, stop, onBytes } = options;
  const clock = trendClock(map, zone, mapFile);
  if (!clock.ok) return clock;
  const above: Line[] = [];
  const top = map.file.units_line ?? map.file.header_line;
  const seen = new Seen();
  let header: TableHeader | null = null;
  const wish = onBytes === undefined ? {} : { onBytes };
  for await (const batch of linesOf(path, { encoding: map.file.encoding, stop, ...wish }))
    for (const line of batch) {
      seen.lines = line.number;
      if (line.number <= top) {
        above.push(line);
        continue;
      }
      if (header === null) {
        const read = readHeader(above, map, path);
        if (!read.ok) return read;
        header = read.value;
      }
      const text = textOf(line);
      const row = text === null ? LONG : readRow(text, header, clock.value);
      if (row === null) continue;
      if (!row.ok) seen.troubles.add(row.reason, line.number);
      else seen.row(row.time, row.repeated, header.name === null ? '' : (row.cells[header.name] as string));
    }
  if (header === null) {
    const read = readHeader(above, map, path);
    return read.ok ? fail('trend_file', `${path}: there is no line of data`) : read;
  }
  if (seen.rows === 0) return fail('trend_file', nothing(path, seen));
  const { lines, rows, first, last, ordered, repeated, troubles } = seen;
  return ok({
    header,
    names: header.name === null ? header.names : [...seen.series.keys()],
    lines,
    rows,
    first,
    last,
    ordered,
    step_s: seen.step(),
    repeated_hour: repeated,
    bad_lines: troubles.count,
    troubles: troubles.list(),
  });
}

const LONG = { ok: false, reason: 'longer than a line may be' } as const;

function nothing(path: string, { troubles }: Seen): string {
  const [worst] = troubles.list();
  if (worst === undefined) return `${path}: there is no line of data`;
  return `${path}:${worst.lines[0]}: no line can be used: ${worst.what} (time.format and file of the map say how they are written)`;
}

class Seen {
  lines = 0;
  rows = 0;
  first = Number.POSITIVE_INFINITY;
  last = Number.NEGATIVE_INFINITY;
  ordered = true;
  repeated = 0;
  readonly troubles = new Troubles();
  /** Newest time of each series. */
  readonly series = new Map<string, number>();
  readonly #steps = new Map<number, number>();
  #looked = 0;

  row(time: number, repeated: boolean, series: string): void {
    this.rows += 1;
    if (time < this.last) this.ordered = false;
    this.first = Math.min(this.first, time);
    this.last = Math.max(this.last, time);
    if (repeated) this.repeated += 1;
    const before = this.series.get(series);
    if (before === undefined && this.series.size >= TRENDS_MAX) return;
    this.series.set(series, time);
    if (before === undefined || time === before || this.#looked >= STEPS_MAX) return;
    this.#looked += 1;
    const step = Math.abs(time - before);
    this.#steps.set(step, (this.#steps.get(step) ?? 0) + 1);
  }

  /** The middle one, s. */
  step(): number | null {
    let left = this.#looked / 2;
    for (const [step, count] of [...this.#steps].sort(([a], [b]) => a - b)) {
      left -= count;
      if (left <= 0) return step / 1000;
    }
    return null;
  }
}
