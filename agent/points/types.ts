import type { Quality } from '../base/quality.ts';
import type { Slope } from '../base/slope.ts';
import type { UnitName } from '../base/units.ts';
import type { PointName } from './dictionary.ts';

/**
 * How a pressure transmitter counts: from vacuum, from the local atmosphere, from a sealed standard atmosphere, or
 * already made absolute by the controller.
 */
export type PressureReference = 'absolute' | 'vented_gauge' | 'sealed_gauge' | 'converted';

/** What a site says of one point, whatever bus it comes from. Frozen. */
export interface PointSpec {
  readonly name: PointName;
  /** Unit of the value after scale and offset. */
  readonly unit: UnitName;
  readonly scale: number;
  readonly offset: number;
  /** Pressures only. */
  readonly reference: PressureReference;
  /** Raw values that mean 'no measurement' on this controller. */
  readonly sentinels: readonly number[];
  /** Lowest and highest believable value, in `unit`. */
  readonly valid: readonly [number, number];
  /**
   * Standard uncertainty (k = 1): SI difference, and relative part of the value; both add in quadrature. `barometer` is
   * the part of `absolute` that comes from the site's barometer (Pa): one error common to all vented gauges of the
   * machine. Left out: none.
   */
  readonly uncertainty: { readonly absolute: number; readonly relative: number; readonly barometer?: number };
  /** Polled every few seconds for the level loops. */
  readonly fast: boolean;
  /** Seconds after which a value is no longer the present. */
  readonly stale_s: number;
  /**
   * Seconds of bit-identical raw values after which the point counts as frozen; null where a steady value is normal
   * (states, set points).
   */
  readonly frozen_s: number | null;
}

/**
 * What a source delivers: one reading of one point, raw as decoded from the bus (before scale), or why there is none.
 */
export interface RawSample {
  readonly point: PointName;
  /** Milliseconds since the epoch at which the reply arrived. */
  readonly time: number;
  readonly raw: number | null;
  /** Why `raw` is null: a short phrase. */
  readonly reason?: string;
  /** Why a value that is there must not be taken at its word (overridden by hand at the controller): a short phrase. */
  readonly doubt?: string;
}

/** Where a source puts what it reads. Never computes; safe to call from a socket handler. */
export interface SampleSink {
  record(sample: RawSample): void;
}

export type LinkState = 'connecting' | 'connected' | 'lost' | 'stopped';

/** One controller's link as its source sees it. */
export interface SourceStatus {
  readonly state: LinkState;
  /** Milliseconds since the epoch since when the state holds. */
  readonly since: number;
  /** Why it is not connected, one phrase; null where it is, or what is odd about a link that works. */
  readonly reason: string | null;
  readonly counters: Readonly<Record<string, number>>;
}

/**
 * A controller's reader. `init` validates without the network, `start` does I/O, `stop` is idempotent and bounded.
 * There is no write.
 */
export interface Source {
  start(sink: SampleSink): Promise<void>;
  stop(): Promise<void>;
  status(): SourceStatus;
}

/** One point over one interval, SI. */
export interface PointValue {
  /** Mean over the interval (last value for states); null with a reason where it is bad. */
  readonly value: number | null;
  /** Standard uncertainty, k = 1, as an SI difference; null where the value is. */
  readonly u: number | null;
  /**
   * The part of `u` (in quadrature, Pa) that is the site's barometer: the same error, with the same sign, in every
   * point that carries it. Left out: none.
   */
  readonly u_barometer?: number;
  /**
   * The part of `u` (in quadrature) that is new in each interval, as the scatter of its samples shows; the rest, the
   * sensor's own error, is the same all through. Left out: none.
   */
  readonly u_random?: number;
  readonly quality: Quality;
  readonly reason: string | null;
  /** Seconds between the newest sample and the interval's end; null where there never was one. */
  readonly age_s: number | null;
  /** Standard deviation of the interval's samples; null for fewer than two, and for states and counters. */
  readonly spread: number | null;
  /** Samples in the interval. */
  readonly n: number;
  /**
   * Levels: how fast it changed over the interval, and the standard uncertainty of that (k = 1), SI per second. Left
   * out: no level, or too few samples to tell.
   */
  readonly rate?: Slope;
}

/** All points of one chiller over one interval. `solve` sees this and nothing else of the outside. */
export interface Snapshot {
  /** End of the interval, milliseconds since the epoch. */
  readonly time: number;
  readonly points: Readonly<Record<PointName, PointValue>>;
}
