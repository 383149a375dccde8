/** Fast samples on disk: one row per point and minute, and their bound. */
import { LIMITS } from '../base/limits.ts';
import { assert } from '../base/result.ts';
import { packColumn, unpackColumn } from './columns.ts';
import type { Store } from './store.ts';
import type { FastQuery, FastStored, MinuteCommit } from './types.ts';

export function writeFast(store: Store, { chiller, sequence, fast }: MinuteCommit): void {
  for (const { point, times, values } of fast) {
    assert(times.length === values.length, `fast samples of ${point}: a time for each value`);
    if (times.length === 0) continue;
    const when = Array.from(times);
    // JSON writes NaN as null: a sample that is no number is missing.
    const data = packColumn([when, Array.from(values)]);
    store.run(
      'INSERT INTO fast (chiller, point, sequence, first_time, last_time, data) VALUES (?, ?, ?, ?, ?, ?)',
      chiller,
      point,
      sequence,
      Math.floor(Math.min(...when)),
      Math.ceil(Math.max(...when)),
      data,
    );
  }
}

/** Gives up fast samples older than `kept_s` before the newest minute; some at a time, oldest first. */
export function boundFast(store: Store, { chiller, time, kept_s }: { chiller: string; time: number; kept_s: number }) {
  store.run(
    `DELETE FROM fast WHERE rowid IN (SELECT rowid FROM fast WHERE chiller = ? AND last_time < ? ORDER BY rowid LIMIT ?)`,
    chiller,
    time - kept_s * 1000,
    LIMITS.history_deletes_per_commit_max,
  );
}

/** Every stored sample with from < time <= to, in the order of its time; times that run backwards are left out. */
export function fastSamples(store: Store, { chiller, point, from, to }: FastQuery): FastStored {
  const rows = store.all(
    'SELECT data FROM fast WHERE chiller = ? AND point = ? AND last_time >= ? AND first_time <= ? ORDER BY sequence',
    chiller,
    point,
    Math.floor(from),
    Math.ceil(to),
  );
  const found: { times: number[]; values: number[] } = { times: [], values: [] };
  let newest = from;
  for (const row of rows) {
    const [times, values] = unpackColumn(row['data']) as [number[], (number | null)[]];
    times.forEach((time, index) => {
      const value = values[index] ?? null;
      if (value === null || time <= newest || time > to) return;
      newest = time;
      found.times.push(time);
      found.values.push(value);
    });
  }
  return found;
}
