/**
 * A process that lives through recorded minutes of one chiller as the agent does, and tells what that cost: the fold on
 * the emulated plant's readings, one transaction a minute, and messages that are delivered at once. JSON of `DayWishes`
 * as the one argument; prints one line of `DayFound`. A process of its own, because the system counts written bytes by
 * process.
 */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { must } from '../../../agent/base/result.ts';
import { fromSi, toSi, type UnitName } from '../../../agent/base/units.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { Store } from '../../../agent/history/store.ts';
import { zeroPressure } from '../../../agent/points/convert.ts';
import type { SitePoint } from '../../../agent/site/points.ts';
import { withPlaces } from '../../../agent/site/site.ts';
import { ChillerWatch } from '../../../agent/watch.ts';

export interface DayWishes {
  readonly config: string;
  readonly chiller: string;
  /** NDJSON of `plant --record`. */
  readonly record: string;
  readonly folder: string;
  readonly mqtt: boolean;
  readonly influx: boolean;
}

export interface DayFound {
  readonly minutes: number;
  /** Bytes that had to reach the disk (`write_bytes` of /proc/self/io, proc(5)), and that were handed to the system. */
  readonly to_disk: number;
  readonly handed: number;
  /** How many of the minutes are packed by now. */
  readonly packed: number;
  /** Bytes of the store by what they hold. */
  readonly parts: Readonly<Record<string, number>>;
}

interface Line {
  readonly time: string;
  readonly points: Readonly<Record<string, { readonly value: number | null; readonly unit: UnitName }>>;
}

const wishes = JSON.parse(process.argv[2] ?? '') as DayWishes;
const LINK = { state: 'connected', since: 0, reason: null, counters: {} } as const;

function counted(): { readonly to_disk: number; readonly handed: number } {
  const text = readFileSync('/proc/self/io', 'utf8');
  const of = (name: string): number => Number(new RegExp(`^${name}: (\\d+)`, 'm').exec(text)?.[1]);
  return { to_disk: of('write_bytes'), handed: of('wchar') };
}

const read = await loadSite(wishes.config, { env: {} });
if (!read.ok) throw new Error(JSON.stringify(read.fault));
const site = withPlaces(read.value, {
  history: { folder: wishes.folder },
  mqtt: wishes.mqtt ? read.value.mqtt : null,
  influx: wishes.influx
    ? { api: 'v2', url: 'http://127.0.0.1:1', measurement: 'tonhour', bucket: 'plant', organisation: null, token: null }
    : null,
});
const chiller = site.chillers.find(({ id }) => id === wishes.chiller);
if (chiller === undefined) throw new Error(`no chiller ${wishes.chiller}`);
const polling = 'modbus' in chiller.source ? chiller.source.modbus : chiller.source.bacnet;
const lines = readFileSync(wishes.record, 'utf8').trim().split('\n');
const history = must(openHistory({ folder: wishes.folder }));
const clock = { now: () => Date.now(), monotonic: () => performance.now() };
const watch = must(ChillerWatch.open({ site, chiller, history, clock, root: 'tonhour/kestrel-quay' }));

/** The samples of one minute at the pace of the site file; in the last digit they differ, as readings do. */
function sample(point: SitePoint, { time, points }: Line): void {
  const shown = points[point.name];
  if (shown === undefined || shown.value === null) return;
  const end = Date.parse(time);
  const step = 1000 * (point.fast ? polling.fast_s : polling.poll_s);
  const zero = zeroPressure(point.reference, { local: site.barometer });
  const raw = (fromSi(toSi(shown.value, shown.unit, zero), point.unit, zero) - point.offset) / point.scale;
  for (let at = end - 60_000 + step, k = 0; at <= end; at += step, k += 1)
    watch.samples.record({ point: point.name, time: at, raw: raw * (1 + 1e-4 * ((k % 7) - 3)) });
}

function deliver(sink: string): void {
  for (const { id } of history.outbox.oldest(sink, 100)) history.outbox.settle(id, 'accept');
}

const before = counted();
for (const text of lines) {
  const line = JSON.parse(text) as Line;
  for (const point of chiller.points) sample(point, line);
  const to = Date.parse(line.time);
  must(watch.fold({ from: to - 60_000, to, missed: 0 }, LINK));
  for (const sink of ['mqtt', 'influx']) deliver(sink);
}
const after = counted();
history.close();
const store = new Store(path.join(wishes.folder, 'history.sqlite'), { readOnly: true });
const packed = Number(store.get('SELECT coalesce(sum(minutes), 0) AS n FROM block')?.['n']);
const pages = store.all(
  `SELECT CASE WHEN name IN ('packed', 'block') OR name LIKE 'sqlite_autoindex_block%' THEN 'packed minutes'
     WHEN name LIKE '%fast%' THEN 'fast samples' WHEN name LIKE '%minute%' THEN 'newest minutes' ELSE 'rest' END AS part,
     sum(pgsize) AS bytes FROM dbstat GROUP BY 1 ORDER BY 2 DESC`,
);
store.close();
const found: DayFound = {
  minutes: lines.length,
  to_disk: after.to_disk - before.to_disk,
  handed: after.handed - before.handed,
  packed,
  parts: Object.fromEntries(pages.map((row) => [String(row['part']), Number(row['bytes'])])),
};
process.stdout.write(`${JSON.stringify(found)}\n`);
