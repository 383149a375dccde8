/**
 * Types of the page's own modules (plain JavaScript with JSDoc): what the agent embeds for the browser and what the
 * renderers take.
 */
import type { AlarmFigure, DiagramFigure, Now, PlantFigure, SiteFigure } from './types.ts';

export type UnitSystem = 'ip' | 'si';
export type Look = 'auto' | 'light' | 'dark';

/** Thinned history of one metric or point: catalogue unit, buckets in order. */
export interface Series {
  readonly unit: string;
  /** Milliseconds since the epoch that the rows count from. */
  readonly start: number;
  /** Seconds from `start`, least and greatest of the bucket; for the sparks the mean stands in both places. */
  readonly points: readonly (readonly [number, number | null, number | null])[];
}

/** What the agent embeds in the page and answers under `/api/chillers/<id>/page`. */
export interface PageData {
  readonly site: SiteFigure;
  /** Id of the chiller whose view this is. */
  readonly chosen: string;
  readonly nows: Readonly<Record<string, Now>>;
  /** The newest minute of each chiller that its controller answered, where the link is down now. */
  readonly last: Readonly<Record<string, Now>>;
  /** The machines together. */
  readonly plant: PlantFigure;
  readonly diagram: DiagramFigure | null;
  readonly series: Readonly<Record<string, Series>>;
  /** Power per ton of each chiller over the last hour. */
  readonly sparks: Readonly<Record<string, Series>>;
  readonly alarms: readonly AlarmFigure[];
  /** The agent's wall clock at the answer, RFC 3339. */
  readonly served: string;
}

/** Everything a renderer may look at. Pure: the clock is a value. */
export interface View extends PageData {
  readonly system: UnitSystem;
  readonly look: Look;
  /** Milliseconds since the epoch by the agent's clock. */
  readonly clock: number;
  readonly page: 'now' | 'alarms';
}

/** How far the figures of one chiller can be trusted to be the present. */
export interface Condition {
  /** `waiting`: no minute yet; `lost`: the agent lost the controller; `stale`: no minute from the agent. */
  readonly kind: 'live' | 'waiting' | 'lost' | 'stale';
  /** Time the shown figures were solved for, ms; null while waiting. */
  readonly time: number | null;
  /** Seconds from `time` to the clock. */
  readonly age_s: number;
}

/** One figure before it is written: catalogue unit, and what to say of it. */
export interface Figure {
  readonly name: string;
  readonly chiller: string;
  readonly value: number | null;
  readonly unit: string;
  readonly uncertainty: number | null;
  readonly quality: 'good' | 'uncertain' | 'bad';
  readonly reason: string | null;
  readonly time: string | null;
  /** Shown in brackets: last known. */
  readonly last: boolean;
  /** Belongs to a machine that is off. */
  readonly off: boolean;
  /** No minute solved yet. */
  readonly waiting: boolean;
}

/** A figure as people read it. */
export interface Written {
  readonly value: string | null;
  readonly plus: string | null;
  readonly unit: string;
}

/** A run of text inside an SVG text element. */
export interface Run {
  readonly t: string;
  readonly c?: string;
  readonly size?: number;
  /** Attributes that mark the run as a figure. */
  readonly data?: string;
}

export type Point = readonly [number, number];

/** Left, top, right, bottom in px. */
export type Box = readonly [number, number, number, number];

export interface PlacedLabel {
  readonly id: string;
  readonly box: Box;
}
