/**
 * A trend export through the same analysis as the live agent: its readings become samples, interval by interval they
 * are folded in, and each outcome goes to whoever asked. Bounded memory, whatever the length of the export.
 */
import { LIMITS } from './base/limits.ts';
import { ok, type Result } from './base/result.ts';
import { ChillerFold } from './fold.ts';
import type { MinuteOutcome } from './minute.ts';
import type { SourceStatus } from './points/types.ts';
import type { Site } from './site/site.ts';
import type { TrendMapFile } from './site/trend-map.ts';
import type { TrendChiller, TrendPoint } from './site/trend-points.ts';
import type { TrendRow } from './sources/trend/rows.ts';
import type { Scanned } from './sources/trend/scan.ts';
import { Troubles } from './sources/trend/troubles.ts';
import { Values } from './sources/trend/values.ts';

export interface ReplayOptions {
  readonly site: Site;
  readonly map: TrendMapFile;
  readonly scanned: Scanned;
  readonly chillers: readonly TrendChiller[];
  readonly interval_s: number;
  /** First part of every topic: `<prefix>/<site>`. */
  readonly root: string;
  readonly onMinute: (chiller: number, outcome: MinuteOutcome) => void;
  readonly stop: AbortSignal;
}

/** What became of the readings. */
export interface ReplayCounts {
  /** Cells that gave a number. */
  readonly readings: number;
  /** Cells that say that nothing was measured. */
  readonly missing: number;
  /** The same reading again at the same time; another reading at the same time: the last one counts. */
  readonly repeated: number;
  readonly conflicting: number;
  /** Cells with a word that is no number. */
  readonly text: Troubles;
  /** Lines whose status was not good. */
  readonly status: Troubles;
  /** Intervals left out in holes of the export, for each chiller alike. */
  readonly skipped: number;
  /** End of the last interval, ms. */
  readonly end: number;
}

/** One place where a reading goes, and the reading that waits for the next one's time. */
interface Target {
  readonly chiller: Watched;
  readonly point: TrendPoint;
  time: number;
  raw: number | null;
  reason: string;
}

interface Watched {
  readonly fold: ChillerFold;
  readonly hold_ms: number;
  newest: number;
}

/** Interval of a replay where the map says none: the site's, or a longer one where the export is slower. */
export function replayInterval(site: Site, map: TrendMapFile, step_s: number | null): number {
  if (map.interval_s !== undefined) return map.interval_s;
  const steps = [site.interval_s, 60, 120, 300, 600, LIMITS.interval_s_max].filter((each) => each >= site.interval_s);
  return steps.find((each) => each >= (step_s ?? 0)) ?? LIMITS.interval_s_max;
}

/** Folds every row in. Faults: those of a chiller's parameters. */
export async function replay(
  options: ReplayOptions,
  rows: AsyncIterable<readonly TrendRow[]>,
): Promise<Result<ReplayCounts>> {
  const run = Replay.prepare(options);
  if (!run.ok) return run;
  for await (const batch of rows) {
    if (options.stop.aborted) break;
    for (const row of batch) run.value.row(row);
  }
  return ok(run.value.end());
}

const CONNECTED = { state: 'connected', reason: null } as const;
const NOTHING = { state: 'stopped', reason: 'the export has no reading' } as const;
/** Longest word of an export that a reason repeats. */
const WORD_MAX = 40;

class Replay {
  readonly #options: ReplayOptions;
  readonly #values: Values;
  readonly #watched: readonly Watched[];
  /** By column, or by name of the trend. */
  readonly #targets: ReadonlyMap<string, readonly Target[]>;
  readonly #all: readonly Target[];
  readonly #columns: readonly (readonly [place: number, targets: readonly Target[]])[];
  readonly #good: ReadonlySet<string>;
  readonly #text = new Troubles();
  readonly #status = new Troubles();
  #end = Number.NaN;
  #readings = 0;
  #missing = 0;
  #repeated = 0;
  #conflicting = 0;
  #skipped = 0;

  static prepare(options: ReplayOptions): Result<Replay> {
    const { site, chillers, root } = options;
    const watched: Watched[] = [];
    for (const { chiller, points } of chillers) {
      const specs = points.map(({ spec }) => spec);
      const fold = ChillerFold.prepare({ chiller, specs, barometer: site.barometer, root });
      if (!fold.ok) return fold;
      const hold_ms = 1000 * Math.max(...specs.map(({ stale_s }) => stale_s));
      watched.push({ fold: fold.value, hold_ms, newest: Number.NEGATIVE_INFINITY });
    }
    return ok(new Replay(options, watched));
  }

  private constructor(options: ReplayOptions, watched: readonly Watched[]) {
    const { map, chillers, scanned } = options;
    this.#options = options;
    this.#watched = watched;
    this.#values = new Values({ decimal: map.file.decimal, missing: map.file.missing });
    this.#all = chillers.flatMap(({ points }, index) =>
      points.map((point) => ({ chiller: watched[index] as Watched, point, time: Number.NaN, raw: null, reason: '' })),
    );
    this.#targets = Map.groupBy(this.#all, ({ point }) => point.column);
    this.#columns = [...this.#targets].map(([column, targets]) => [scanned.header.names.indexOf(column), targets]);
    this.#good = new Set(map.status?.good.map((word) => word.trim().toLowerCase()));
  }

  row({ time, line, cells }: TrendRow): void {
    this.#advance(time);
    const { name, value, status } = this.#options.scanned.header;
    if (name === null || value === null) {
      for (const [place, targets] of this.#columns) {
        const cell = cells[place] as string;
        if (cell !== '') for (const target of targets) this.#read(target, { time, line, cell });
      }
      return;
    }
    const targets = this.#targets.get(cells[name] as string) ?? [];
    const said = status === null ? null : (cells[status] as string);
    const doubted = said !== null && !this.#good.has(said.toLowerCase());
    if (doubted && targets.length > 0) this.#status.add(said.slice(0, WORD_MAX), line);
    for (const target of targets)
      if (doubted) this.#put(target, { time, raw: null, reason: `the export says ${said.slice(0, WORD_MAX)}` });
      else this.#read(target, { time, line, cell: cells[value] as string });
  }

  end(): ReplayCounts {
    if (Number.isFinite(this.#end) && !this.#options.stop.aborted) this.#close();
    return {
      readings: this.#readings,
      missing: this.#missing,
      repeated: this.#repeated,
      conflicting: this.#conflicting,
      text: this.#text,
      status: this.#status,
      skipped: this.#skipped,
      end: this.#end,
    };
  }

  /** Ends every interval that lies before a time. */
  #advance(time: number): void {
    const grid = 1000 * this.#options.interval_s;
    const end = Math.ceil(time / grid) * grid;
    if (Number.isNaN(this.#end)) this.#end = end;
    if (end > this.#end && end - this.#end > 1000 * LIMITS.replay_gap_s_max) {
      this.#close();
      this.#skipped += (end - this.#end) / grid - 1;
      this.#end = end;
    }
    while (end > this.#end) {
      this.#close();
      this.#end += grid;
    }
  }

  #close(): void {
    for (const target of this.#all) if (target.time <= this.#end) flush(target);
    const from = this.#end - 1000 * this.#options.interval_s;
    this.#watched.forEach((each, index) => {
      const link: Pick<SourceStatus, 'state' | 'reason'> = this.#end - each.newest > each.hold_ms ? NOTHING : CONNECTED;
      this.#options.onMinute(index, each.fold.step({ from, to: this.#end }, link));
    });
  }

  #read(target: Target, { time, line, cell }: { time: number; line: number; cell: string }): void {
    const read = this.#values.read(cell, target.point);
    if (read.kind === 'number') {
      this.#readings += 1;
      this.#put(target, { time, raw: read.value, reason: '' });
      return;
    }
    const word = cell.slice(0, WORD_MAX);
    if (read.kind === 'missing') this.#missing += 1;
    else this.#text.add(`'${word}' in ${target.point.column}`, line);
    this.#put(target, { time, raw: null, reason: cell === '' ? 'not recorded' : `the export says '${word}'` });
  }

  /** Waits until the next reading's time: a line that comes twice is one reading. */
  #put(target: Target, { time, raw, reason }: { time: number; raw: number | null; reason: string }): void {
    if (target.time === time) {
      if (Object.is(target.raw, raw)) this.#repeated += 1;
      else this.#conflicting += 1;
    } else flush(target);
    target.time = time;
    target.raw = raw;
    target.reason = reason;
    if (raw !== null) target.chiller.newest = time;
  }
}

function flush(target: Target): void {
  const { chiller, point, time, raw, reason } = target;
  if (Number.isNaN(time)) return;
  chiller.fold.samples.record({ point: point.spec.name, time, raw, ...(raw === null ? { reason } : {}) });
  target.time = Number.NaN;
}
