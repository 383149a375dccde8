/** Trends: stored values of one metric or point, gathered into buckets of least, greatest and mean. */
import { LIMITS } from '../base/limits.ts';
import { assert } from '../base/result.ts';
import { KINDS, unpackColumn } from './columns.ts';
import type { Store } from './store.ts';
import type { Bucket, Trend, TrendQuery } from './types.ts';

type Visit = (time: number, value: number | null) => void;

/** Trend of a metric, or of a point where no metric has that name. */
export function minuteTrend(store: Store, query: TrendQuery): Trend {
  const span = clip(
    query,
    store.get('SELECT min(first_time) AS oldest, max(last_time) AS newest FROM block WHERE chiller = ?', query.chiller),
    store.get('SELECT min(time) AS oldest, max(time) AS newest FROM minute WHERE chiller = ?', query.chiller),
  );
  return gather(span, (visit) => visitMinutes(store, span, visit));
}

/** Trend of a fast point. */
export function fastTrend(store: Store, query: TrendQuery): Trend {
  const span = clip(
    query,
    store.get(
      'SELECT min(first_time) AS oldest, max(last_time) AS newest FROM fast WHERE chiller = ? AND point = ?',
      query.chiller,
      query.name,
    ),
  );
  const rows = (visit: Visit) => {
    const found = store.all(
      'SELECT data FROM fast WHERE chiller = ? AND point = ? AND last_time >= ? AND first_time <= ? ORDER BY sequence',
      query.chiller,
      query.name,
      span.from,
      span.to,
    );
    for (const row of found) {
      const [times, values] = unpackColumn(row['data']) as [number[], (number | null)[]];
      times.forEach((time, index) => {
        visit(time, values[index] as number | null);
      });
    }
  };
  return gather(span, rows);
}

/** No wider than what is stored: buckets before the first and after the last minute say nothing. */
function clip(query: TrendQuery, ...spans: (Record<string, unknown> | undefined)[]): TrendQuery {
  const known = spans.filter((span) => span !== undefined && span['oldest'] !== null) as Record<string, unknown>[];
  if (known.length === 0) return { ...query, from: 0, to: -1 };
  return {
    ...query,
    from: Math.max(query.from, Math.min(...known.map((span) => Number(span['oldest'])))),
    to: Math.min(query.to, Math.max(...known.map((span) => Number(span['newest'])))),
  };
}

function visitMinutes(store: Store, { chiller, name, from, to }: TrendQuery, visit: Visit): void {
  const id = store.get('SELECT id FROM name WHERE name = ?', name)?.['id'];
  const blocks = store.all(
    `SELECT times,
       (SELECT data FROM packed WHERE block = block.id AND kind = ?1 AND name = ?3) AS metric,
       (SELECT data FROM packed WHERE block = block.id AND kind = ?2 AND name = ?3) AS point
     FROM block WHERE chiller = ?4 AND last_time >= ?5 AND first_time <= ?6 ORDER BY first_sequence`,
    KINDS.indexOf('values'),
    KINDS.indexOf('points'),
    id === undefined ? -1 : Number(id),
    chiller,
    from,
    to,
  );
  for (const block of blocks) {
    const data = block['metric'] ?? block['point'];
    if (data === null) continue;
    const times = unpackColumn(block['times'])[1] as number[];
    const column = unpackColumn(data);
    times.forEach((time, index) => {
      visit(time, finite(column[index]));
    });
  }
  // A name with a quote in it would be another path, and is none of ours.
  if (/["\\]/.test(name)) return;
  // `->` gives the text of the number: read here it is the number that came in, SQLite's own reading may differ in the
  // last digit.
  const recent = store.all(
    `SELECT time, coalesce(record -> ?1, record -> ?2) AS value FROM minute
     WHERE chiller = ?3 AND time BETWEEN ?4 AND ?5 ORDER BY sequence`,
    `$.values."${name}"`,
    `$.points."${name}"`,
    chiller,
    from,
    to,
  );
  for (const { time, value } of recent) visit(Number(time), value === null ? null : finite(JSON.parse(String(value))));
}

function finite(entry: unknown): number | null {
  return typeof entry === 'number' ? entry : null;
}

/**
 * Buckets aligned to whole steps of the epoch, each named by its end, as an interval is: a value at time t falls into
 * the bucket with end - step < t <= end. A step that would give more buckets than one answer may have is widened to a
 * whole multiple.
 */
function gather(query: TrendQuery, rows: (visit: Visit) => void): Trend {
  const { from, to } = query;
  assert(query.step_s >= 0, 'a step is not negative');
  if (query.step_s === 0) {
    const buckets: Bucket[] = [];
    rows((time, value) => {
      if (time >= from && time <= to) buckets.push({ time, least: value, greatest: value, mean: value });
    });
    if (buckets.length <= LIMITS.history_points_max) return { step_s: 0, buckets };
  }
  const least_s = Math.max(0, to - from) / 1000 / (LIMITS.history_points_max - 1);
  const unit = query.step_s === 0 ? 60 : query.step_s;
  const step_s = unit * Math.max(1, Math.ceil(least_s / unit));
  const step = step_s * 1000;
  const first = Math.ceil(from / step);
  const count = to < from ? 0 : Math.ceil(to / step) - first + 1;
  const least = new Float64Array(count).fill(Number.POSITIVE_INFINITY);
  const greatest = new Float64Array(count).fill(Number.NEGATIVE_INFINITY);
  const sum = new Float64Array(count);
  const n = new Float64Array(count);
  rows((time, value) => {
    if (value === null || time < from || time > to) return;
    const index = Math.ceil(time / step) - first;
    least[index] = Math.min(least[index] as number, value);
    greatest[index] = Math.max(greatest[index] as number, value);
    sum[index] = (sum[index] as number) + value;
    n[index] = (n[index] as number) + 1;
  });
  const buckets = Array.from({ length: count }, (_, index) => {
    const time = (first + index) * step;
    const size = n[index] as number;
    if (size === 0) return { time, least: null, greatest: null, mean: null };
    return {
      time,
      least: least[index] as number,
      greatest: greatest[index] as number,
      mean: (sum[index] as number) / size,
    };
  });
  return { step_s, buckets };
}
