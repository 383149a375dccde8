/** Stored minutes: the newest as they came, older ones packed into blocks; and their bound. */
import { LIMITS } from '../base/limits.ts';
import type { Fault } from '../base/result.ts';
import { ABSENT, KINDS, packColumn, unpackColumn } from './columns.ts';
import type { Store } from './store.ts';
import type { MinuteCommit, StoredRecord } from './types.ts';

type Entries = Record<string, unknown>;

export function writeMinute(store: Store, { chiller, sequence, time, record }: MinuteCommit): void {
  store.run(
    'INSERT INTO minute (chiller, sequence, time, record) VALUES (?, ?, ?, ?)',
    chiller,
    sequence,
    time,
    record,
  );
  const kept = store.get('SELECT count(*) AS n FROM minute WHERE chiller = ?', chiller);
  if (Number(kept?.['n']) >= LIMITS.minutes_unpacked_max) packOldest(store, chiller);
}

function packOldest(store: Store, chiller: string): void {
  const rows = store.all(
    'SELECT sequence, time, record FROM minute WHERE chiller = ? ORDER BY sequence LIMIT ?',
    chiller,
    LIMITS.minutes_per_block,
  );
  const records = rows.map((row) => JSON.parse(String(row['record'])) as Entries);
  const sequences = rows.map((row) => Number(row['sequence']));
  const times = rows.map((row) => Number(row['time']));
  const last = sequences.at(-1) as number;
  // The keys that become columns stay as empty objects: the record comes back with the same keys in the same order.
  const rest = records.map((record) =>
    Object.fromEntries(
      Object.entries(record).map(([key, entry]) => [key, (KINDS as readonly string[]).includes(key) ? {} : entry]),
    ),
  );
  const { lastInsertRowid: block } = store.run(
    `INSERT INTO block (chiller, first_sequence, last_sequence, first_time, last_time, minutes, times, rest)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
    chiller,
    sequences[0] as number,
    last,
    Math.min(...times),
    Math.max(...times),
    rows.length,
    packColumn([sequences, times]),
    packColumn(rest),
  );
  KINDS.forEach((kind, index) => {
    for (const [name, column] of columnsOf(records, kind))
      store.run(
        'INSERT INTO packed (block, kind, name, data) VALUES (?, ?, ?, ?)',
        block,
        index,
        nameId(store, name),
        packColumn(column),
      );
  });
  store.run('DELETE FROM minute WHERE chiller = ? AND sequence <= ?', chiller, last);
}

/** The entries of one kind, turned from a row per minute into a column per name. */
function columnsOf(records: readonly Entries[], kind: string): Map<string, unknown[]> {
  const columns = new Map<string, unknown[]>();
  records.forEach((record, index) => {
    for (const [name, entry] of Object.entries((record[kind] ?? {}) as Entries)) {
      let column = columns.get(name);
      if (column === undefined) {
        column = new Array<unknown>(records.length).fill(ABSENT);
        columns.set(name, column);
      }
      column[index] = entry;
    }
  });
  return columns;
}

function nameId(store: Store, name: string): number {
  const found = store.get('SELECT id FROM name WHERE name = ?', name);
  if (found !== undefined) return Number(found['id']);
  return store.run('INSERT INTO name (name) VALUES (?)', name).lastInsertRowid;
}

/**
 * Gives up the oldest block of a chiller that has more minutes than it may: one a commit, so that the work of a minute
 * stays even.
 */
export function boundMinutes(store: Store, { chiller, kept_max }: { chiller: string; kept_max: number }): void {
  const packed = Number(
    store.get('SELECT coalesce(sum(minutes), 0) AS n FROM block WHERE chiller = ?', chiller)?.['n'],
  );
  if (packed + LIMITS.minutes_per_block <= kept_max) return;
  const oldest = store.get('SELECT id FROM block WHERE chiller = ? ORDER BY first_sequence LIMIT 1', chiller);
  if (oldest === undefined) return;
  store.run('DELETE FROM packed WHERE block = ?', Number(oldest['id']));
  store.run('DELETE FROM block WHERE id = ?', Number(oldest['id']));
}

export function latestMinute(store: Store, chiller: string): StoredRecord | null {
  const row = store.get(
    'SELECT sequence, time, record FROM minute WHERE chiller = ? ORDER BY sequence DESC LIMIT 1',
    chiller,
  );
  return row === undefined
    ? null
    : { sequence: Number(row['sequence']), time: Number(row['time']), record: String(row['record']) };
}

export interface MinutesQuery {
  readonly chiller: string;
  readonly from: number;
  readonly to: number;
  /**
   * Names whose values, uncertainties, qualities and points are wanted; left out: all. Of the newest minutes, which are
   * not packed yet, there may be more.
   */
  readonly names?: ReadonlySet<string>;
}

/**
 * Every stored minute of a span in the order of its sequence, put together again from its columns; a block at a time.
 */
export function* minutesBetween(store: Store, query: MinutesQuery): Generator<StoredRecord> {
  const { chiller, from, to } = query;
  const blocks = store.all(
    `SELECT id, times, rest FROM block WHERE chiller = ? AND last_time >= ? AND first_time <= ?
     ORDER BY first_sequence`,
    chiller,
    from,
    to,
  );
  for (const block of blocks) yield* minutesOfBlock(store, block, query);
  yield* newestMinutes(store, query, -1);
}

/**
 * The next minutes of a span after a sequence number: those of one block, or the newest that are not packed; none:
 * there are no more. For whoever reads a long span and lets the store go in between.
 */
export function minutesAfter(store: Store, query: MinutesQuery, sequence: number): StoredRecord[] {
  const { chiller, from, to } = query;
  for (let last = sequence; ; ) {
    const block = store.get(
      `SELECT id, times, rest, last_sequence FROM block
       WHERE chiller = ? AND last_time >= ? AND first_time <= ? AND last_sequence > ? ORDER BY first_sequence LIMIT 1`,
      chiller,
      from,
      to,
      last,
    );
    if (block === undefined) return [...newestMinutes(store, query, last)];
    const found = [...minutesOfBlock(store, block, query)].filter((minute) => minute.sequence > sequence);
    if (found.length > 0) return found;
    last = Number(block['last_sequence']);
  }
}

function* minutesOfBlock(
  store: Store,
  block: Readonly<Record<string, unknown>>,
  { from, to, names }: MinutesQuery,
): Generator<StoredRecord> {
  const [sequences, times] = unpackColumn(block['times']) as [number[], number[]];
  const records = (unpackColumn(block['rest']) as Entries[]).map((rest) => ({ ...rest }));
  const columns = store.all(
    `SELECT kind, name.name AS name, data FROM packed JOIN name ON name.id = packed.name
     WHERE block = ?1 AND (?2 IS NULL OR name.name IN (SELECT value FROM json_each(?2)))`,
    Number(block['id']),
    names === undefined ? null : JSON.stringify([...names]),
  );
  for (const { kind, name, data } of columns) {
    const key = KINDS[Number(kind)] as string;
    unpackColumn(data).forEach((entry, index) => {
      if (entry === ABSENT) return;
      const record = records[index] as Entries;
      record[key] ??= {};
      (record[key] as Entries)[String(name)] = entry;
    });
  }
  for (const [index, record] of records.entries()) {
    const time = times[index] as number;
    if (time >= from && time <= to)
      yield { sequence: sequences[index] as number, time, record: JSON.stringify(record) };
  }
}

function* newestMinutes(store: Store, { chiller, from, to }: MinutesQuery, after: number): Generator<StoredRecord> {
  const recent = store.all(
    'SELECT sequence, time, record FROM minute WHERE chiller = ? AND time BETWEEN ? AND ? AND sequence > ? ORDER BY sequence',
    chiller,
    from,
    to,
    after,
  );
  for (const row of recent)
    yield { sequence: Number(row['sequence']), time: Number(row['time']), record: String(row['record']) };
}

/** The store has the number of a minute already. */
export function sequenceFault({ chiller, sequence }: MinuteCommit): Fault {
  return {
    code: 'history_sequence',
    message: `${chiller} minute ${sequence} refused: the store has that number already; is a second agent running on this folder?`,
  };
}
