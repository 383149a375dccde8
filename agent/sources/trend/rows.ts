/**
 * The lines of an export in the order of their times. A file in order is read as it stands; any other is sorted first,
 * on disk, so that a year of lines never has to fit the memory.
 */
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { setImmediate } from 'node:timers/promises';
import { cells } from '../../base/cells.ts';
import { must } from '../../base/result.ts';
import type { TrendMapFile } from '../../site/trend-map.ts';
import { linesOf } from './lines.ts';
import type { Scanned } from './scan.ts';
import { readRow, type TrendClock, textOf, trendClock } from './table.ts';

export interface TrendRow {
  /** ms since the epoch. */
  readonly time: number;
  readonly line: number;
  readonly cells: readonly string[];
}

export interface RowsOptions {
  readonly path: string;
  readonly map: TrendMapFile;
  readonly zone: string;
  readonly scanned: Scanned;
  /** Where a file that is out of order is sorted. */
  readonly folder: string;
  /** Share of the work that is done, 0 to 1. */
  readonly onShare: (share: number) => void;
  readonly bytes: number;
  readonly stop: AbortSignal;
}

/** Rows by time, lines of one time as they stand. What `scanTrend` counted as bad is left out. */
export function rowsOf(options: RowsOptions): AsyncGenerator<TrendRow[]> {
  return options.scanned.ordered ? ordered(options) : sorted(options);
}

async function* ordered(options: RowsOptions): AsyncGenerator<TrendRow[]> {
  const { map, zone, scanned, path, stop, bytes, onShare } = options;
  const { header } = scanned;
  const clock = must(trendClock(map, zone, path));
  const onBytes = (read: number): void => onShare(read / Math.max(1, bytes));
  const top = map.file.units_line ?? map.file.header_line;
  for await (const batch of linesOf(path, { encoding: map.file.encoding, onBytes, stop })) {
    const rows: TrendRow[] = [];
    for (const line of batch) {
      const text = line.number <= top ? null : textOf(line);
      const row = text === null ? null : readRow(text, header, clock);
      if (row?.ok === true) rows.push({ time: row.time, line: line.number, cells: row.cells });
    }
    yield rows;
  }
}

const BATCH = 2000;

async function* sorted(options: RowsOptions): AsyncGenerator<TrendRow[]> {
  const { scanned, folder, onShare, stop } = options;
  const file = join(folder, 'sorting.sqlite');
  rmSync(file, { force: true });
  const database = new DatabaseSync(file);
  try {
    // Thrown away at the end: nothing of it needs to outlive a power cut.
    database.exec('PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA temp_store = FILE;');
    database.exec('CREATE TABLE row (time INTEGER NOT NULL, line INTEGER NOT NULL, text TEXT NOT NULL) STRICT');
    await fill(database, options);
    const rows = database.prepare('SELECT time, line, text FROM row ORDER BY time, line').iterate();
    let batch: TrendRow[] = [];
    let done = 0;
    for (const { time, line, text } of rows) {
      const row = cells(String(text), scanned.header.separator).slice(0, scanned.header.names.length);
      batch.push({ time: Number(time), line: Number(line), cells: row });
      if (batch.length < BATCH) continue;
      done += batch.length;
      yield batch;
      batch = [];
      onShare(done / scanned.rows);
      await setImmediate();
      if (stop.aborted) return;
    }
    yield batch;
    onShare(1);
  } finally {
    database.close();
    rmSync(file, { force: true });
  }
}

async function fill(database: DatabaseSync, { path, map, zone, scanned, stop }: RowsOptions): Promise<void> {
  const clock: TrendClock = must(trendClock(map, zone, path));
  const top = map.file.units_line ?? map.file.header_line;
  const insert = database.prepare('INSERT INTO row (time, line, text) VALUES (?, ?, ?)');
  for await (const batch of linesOf(path, { encoding: map.file.encoding, stop })) {
    database.exec('BEGIN');
    for (const line of batch) {
      const text = line.number <= top ? null : textOf(line);
      const row = text === null ? null : readRow(text, scanned.header, clock);
      if (row?.ok === true) insert.run(row.time, line.number, text as string);
    }
    database.exec('COMMIT');
  }
}
