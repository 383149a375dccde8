/**
 * The latest samples of one controller's points: what a source writes and the tick reads. Recording is cheap and
 * never computes; all judging happens when an interval is taken. Bounded: per point a ring that grows to
 * `samples_per_interval_max`.
 */
import { LIMITS } from '../base/limits.ts';
import type { PointName } from './dictionary.ts';
import type { RawSample, SampleSink } from './types.ts';

/** Raw samples of one point in one interval, oldest first. */
export interface PointSamples {
  readonly times: readonly number[];
  readonly raws: readonly number[];
  /** Newest reading ever taken that had a value, also from before the interval; null where there never was one. */
  readonly latest: { readonly time: number; readonly raw: number } | null;
  /** Newest attempt that failed after `latest`; null where the newest attempt gave a value. */
  readonly failure: { readonly time: number; readonly reason: string } | null;
  /** Since when every reading up to `latest` was bit-identical, ms since the epoch. */
  readonly unchanged_since: number | null;
  /** Why the controller doubts a sample of the interval (`latest` where it has none); left out where it does not. */
  readonly doubt?: string;
}

export interface SampleCounts {
  readonly recorded: number;
  /** Samples of points that nobody declared. */
  readonly unknown_point: number;
  /** Times that ran backwards: the clock was stepped, and the point's older samples were let go. */
  readonly clock_stepped: number;
  /** Samples that the ring's bound pushed out before they were ever part of an interval. */
  readonly overrun: number;
}

export interface SampleTable extends SampleSink {
  /**
   * Samples with from < time <= to for every declared point. Forgets nothing: the same interval can be taken again
   * while the ring holds it.
   */
  interval(from: number, to: number): ReadonlyMap<PointName, PointSamples>;
  /**
   * Seconds between true changes of a point, learned from the readings: a gateway in front of a controller may
   * refresh far more slowly than it answers. An upper estimate where the value itself changes rarely. Null before
   * enough changes were seen.
   */
  updateInterval(point: PointName): number | null;
  counts(): SampleCounts;
}

const FIRST_CAPACITY = 16;
/** Change intervals remembered, and how many are enough for an estimate. */
const CHANGES_KEPT = 64;
const CHANGES_ENOUGH = 8;
/** A hole in the readings longer than this is no evidence that the value stood still meanwhile. */
const HOLE_MS = 600_000;

class PointRing {
  times = new Float64Array(FIRST_CAPACITY);
  raws = new Float64Array(FIRST_CAPACITY);
  /** Doubts by the same index; null for most. */
  doubts: (string | null)[] = [];
  /** Index of the oldest sample, and how many there are. */
  start = 0;
  count = 0;
  latestTime: number | null = null;
  latestRaw = 0;
  latestDoubt: string | null = null;
  unchangedSince: number | null = null;
  failure: { time: number; reason: string } | null = null;
  /** End of the last interval taken: what lies before it was seen. */
  takenTo = Number.NEGATIVE_INFINITY;
  changedAt: number | null = null;
  changes = new Float64Array(CHANGES_KEPT);
  changeCount = 0;

  /** Answers whether a sample that no interval ever saw was pushed out. */
  push(time: number, raw: number, doubt: string | null): boolean {
    let overrun = false;
    if (this.count === this.times.length) {
      if (this.count < LIMITS.samples_per_interval_max) this.grow();
      else {
        overrun = (this.times[this.start] as number) > this.takenTo;
        this.start = (this.start + 1) % this.times.length;
        this.count -= 1;
      }
    }
    const at = (this.start + this.count) % this.times.length;
    this.times[at] = time;
    this.raws[at] = raw;
    this.doubts[at] = doubt;
    this.count += 1;
    return overrun;
  }

  grow(): void {
    const size = Math.min(this.times.length * 2, LIMITS.samples_per_interval_max);
    const times = new Float64Array(size);
    const raws = new Float64Array(size);
    const doubts: (string | null)[] = [];
    for (let i = 0; i < this.count; i += 1) {
      const at = (this.start + i) % this.times.length;
      times[i] = this.times[at] as number;
      raws[i] = this.raws[at] as number;
      doubts[i] = this.doubts[at] ?? null;
    }
    this.doubts = doubts;
    this.times = times;
    this.raws = raws;
    this.start = 0;
  }

  clear(): void {
    this.start = 0;
    this.count = 0;
    this.latestTime = null;
    this.unchangedSince = null;
    this.changedAt = null;
  }

  /** Notes whether the value moved: for the frozen check and for the learned update interval. */
  noteChange(time: number, raw: number): void {
    const known = this.latestTime !== null && time - this.latestTime <= HOLE_MS;
    const same = Object.is(raw, this.latestRaw);
    if (known && same) return;
    this.unchangedSince = time;
    if (!known) this.changedAt = null;
    if (!known || same) return;
    if (this.changedAt !== null) {
      this.changes[this.changeCount % CHANGES_KEPT] = time - this.changedAt;
      this.changeCount += 1;
    }
    this.changedAt = time;
  }

  samples(from: number, to: number): PointSamples {
    const times: number[] = [];
    const raws: number[] = [];
    let doubt: string | null = null;
    for (let i = 0; i < this.count; i += 1) {
      const at = (this.start + i) % this.times.length;
      const time = this.times[at] as number;
      if (time > from && time <= to) {
        times.push(time);
        raws.push(this.raws[at] as number);
        doubt = this.doubts[at] ?? doubt;
      }
    }
    if (times.length === 0) doubt = this.latestDoubt;
    this.takenTo = Math.max(this.takenTo, to);
    return {
      times,
      raws,
      latest: this.latestTime === null ? null : { time: this.latestTime, raw: this.latestRaw },
      failure: this.failure,
      unchanged_since: this.unchangedSince,
      ...(doubt === null ? {} : { doubt }),
    };
  }
}

export function sampleTable(points: readonly PointName[]): SampleTable {
  const rings = new Map(points.map((point) => [point, new PointRing()]));
  const counts = { recorded: 0, unknown_point: 0, clock_stepped: 0, overrun: 0 };

  function record(sample: RawSample): void {
    const ring = rings.get(sample.point);
    if (ring === undefined) {
      counts.unknown_point += 1;
      return;
    }
    counts.recorded += 1;
    const { time, raw } = sample;
    if (ring.latestTime !== null && time < ring.latestTime) {
      counts.clock_stepped += 1;
      ring.clear();
    }
    if (raw === null) {
      ring.failure = { time, reason: sample.reason ?? 'not read' };
      // What happened in the hole is not known: no update interval is learned across it.
      ring.changedAt = null;
      return;
    }
    ring.failure = null;
    ring.noteChange(time, raw);
    ring.latestTime = time;
    ring.latestRaw = raw;
    ring.latestDoubt = sample.doubt ?? null;
    if (ring.push(time, raw, ring.latestDoubt)) counts.overrun += 1;
  }

  return {
    record,
    interval: (from, to) => new Map([...rings].map(([point, ring]) => [point, ring.samples(from, to)])),
    updateInterval(point) {
      const ring = rings.get(point);
      if (ring === undefined || ring.changeCount < CHANGES_ENOUGH) return null;
      const kept = [...ring.changes.subarray(0, Math.min(ring.changeCount, CHANGES_KEPT))].sort((a, b) => a - b);
      // The lower quartile: now and then a refresh brings the same value, which makes an interval look longer, never
      // shorter.
      return (kept[Math.floor(kept.length / 4)] as number) / 1000;
    },
    counts: () => ({ ...counts }),
  };
}
