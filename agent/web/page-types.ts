/**
 * Types of the page's own modules (plain JavaScript with JSDoc): what the agent embeds for the browser and what the
 * renderers take.
 */
import type { ChillerSeason, StepFigure } from '../season/answer.ts';
import type { PlantSeason } from '../season/plant.ts';
import type { AlarmFigure, DiagramFigure, Now, PlantFigure, SiteFigure } from './types.ts';

export type UnitSystem = 'ip' | 'si';
export type PageName = 'now' | 'alarms' | 'season';
export type Look = 'auto' | 'light' | 'dark';

/** Thinned history of one metric or point: catalogue unit, buckets in order. */
export interface Series {
  readonly unit: string;
  /** Milliseconds since the epoch that the rows count from. */
  readonly start: number;
  /** Seconds from `start`, least and greatest of the bucket; for the sparks the mean stands in both places. */
  readonly points: readonly (readonly [number, number | null, number | null])[];
}

/** One day or hour of a season as the chart needs it. */
export type SeasonRow = readonly [
  start: number,
  kwh: number | null,
  ton_hours: number | null,
  /** Measured and expected energy of the hours compared, kWh; ton-hours of the same hours. */
  compared: number | null,
  expected: number | null,
  compared_tons: number | null,
  /** Of measured less expected, k = 2, kWh. */
  uncertainty: number | null,
];

/** Totals of one machine or of the plant, without the rows that the chart has. */
export type SeasonMachine = Omit<ChillerSeason, 'steps' | 'time_zone' | 'notes' | 'months'>;
export type SeasonPlant = Omit<PlantSeason, 'steps' | 'months'>;

/** The season view. */
export interface SeasonPage {
  /** `both`, or the id of a chiller. */
  readonly who: string;
  readonly from: string;
  readonly to: string;
  /** Local days as the form shows them: first and last. */
  readonly days: readonly [string, string];
  /** Whether the person asked for this period, or it is the default. */
  readonly asked: boolean;
  readonly step: 'hour' | 'day';
  readonly plant: SeasonPlant | null;
  readonly chillers: readonly SeasonMachine[];
  readonly months: readonly StepFigure[];
  readonly rows: readonly SeasonRow[];
  readonly load_edges: readonly number[];
  /** K */
  readonly lift_edges: readonly number[];
  readonly tariff: { readonly price_per_kwh: number; readonly currency: string } | null;
  readonly notes: Readonly<Record<string, string>>;
  /** Why there is no season; null where there is. */
  readonly fault: string | null;
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
  /** Without the words that the alarms view alone has, in other views. */
  readonly alarms: readonly AlarmFigure[];
  /** The alarm whose record is asked for, `<chiller>/<id>`; null: none by name. */
  readonly alarm: string | null;
  /** What became of the form that was sent; null where the page takes no commands. */
  readonly desk: { readonly sent: string | null; readonly refused: string | null } | null;
  /** Of the season view alone. */
  readonly season: SeasonPage | null;
  /** The agent's wall clock at the answer, RFC 3339. */
  readonly served: string;
}

/** Everything a renderer may look at. Pure: the clock is a value. */
export interface View extends PageData {
  readonly system: UnitSystem;
  readonly look: Look;
  /** Milliseconds since the epoch by the agent's clock. */
  readonly clock: number;
  readonly page: PageName;
  /** What is said of sensors that contradict the others; in the browser left out until one stands accused. */
  readonly suspectWords?:
    | ((view: View) => { readonly title: string; readonly words: readonly string[] } | null)
    | undefined;
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
