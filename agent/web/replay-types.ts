/** What a replay found, as its summary holds it and its report shows it. Catalogue units, uncertainties with k = 2. */
import type { SeasonFigure } from '../season/season.ts';

export interface Trouble {
  readonly what: string;
  readonly count: number;
  /** The first lines of it, from 1. */
  readonly lines: readonly number[];
}

/** How often a figure was there, and why it was not. */
export interface FigureCount {
  readonly good: number;
  readonly uncertain: number;
  readonly missing: number;
  /** Of uncertain and missing ones, most frequent first; figures in a reason vary, one example stands for all. */
  readonly reasons: readonly { readonly reason: string; readonly count: number }[];
}

export interface LoopCount {
  /** Intervals by verdict. */
  readonly verdicts: Readonly<Record<string, number>>;
  /** Of hunting intervals. */
  readonly causes: Readonly<Record<string, number>>;
  readonly greatest_index: { readonly index: number; readonly time: string; readonly period_s: number | null } | null;
  /** Why there was no verdict, most frequent first. */
  readonly reasons: readonly { readonly reason: string; readonly count: number }[];
}

export interface AlarmSeen {
  readonly id: string;
  readonly title: string;
  readonly priority: number;
  readonly change: string;
  readonly time: string;
  readonly value: number | null;
  readonly limit: number | null;
  readonly unit: string | null;
  /** What was found, by its evidence. */
  readonly found: string;
  readonly action: string;
}

/** Means of one stretch of time, null where there was nothing. Equal lengths. */
export interface TrendBins {
  readonly from: string;
  readonly step_s: number;
  readonly values: Readonly<Record<TrendName, readonly (number | null)[]>>;
}

export const TRENDS = ['unit.kw_per_ton', 'unit.load_fraction', 'unit.power', 'main_compressor.lift'] as const;
export type TrendName = (typeof TRENDS)[number];

export interface ChillerSummary {
  readonly intervals_due: number;
  readonly intervals_recorded: number;
  /** Intervals by state of the machine. */
  readonly states: Readonly<Record<string, number>>;
  readonly season: SeasonFigure;
  readonly loops: Readonly<Record<string, LoopCount>>;
  readonly alarms: readonly AlarmSeen[];
  readonly alarms_left_out: number;
  /** While the machine ran. */
  readonly metrics: Readonly<Record<string, FigureCount>>;
  readonly points: Readonly<Record<string, FigureCount>>;
  readonly trends: TrendBins;
}

export interface ExportSummary {
  readonly file: string;
  readonly bytes: number;
  readonly lines: number;
  readonly rows: number;
  /** First and last reading, RFC 3339 UTC. */
  readonly first: string;
  readonly last: string;
  readonly step_s: number | null;
  /** False: lines were not in the order of their times, and were sorted. */
  readonly ordered: boolean;
  readonly time_zone: string;
  /** Lines in an hour that came twice, and how they were taken. */
  readonly repeated_hour: { readonly lines: number; readonly taken: string };
  /** Lines that could not be read at all. */
  readonly bad_lines: { readonly count: number; readonly kinds: readonly Trouble[] };
  readonly readings: number;
  /** Cells that say that nothing was measured, and cells with a word that is no number. */
  readonly missing: number;
  readonly text: { readonly count: number; readonly kinds: readonly Trouble[] };
  /** Readings whose status was not good. */
  readonly status: { readonly count: number; readonly kinds: readonly Trouble[] };
  readonly repeated_readings: number;
  readonly conflicting_readings: number;
  readonly columns_unused: readonly string[];
  readonly notices: readonly string[];
}

export interface ReplaySummary {
  readonly version: string;
  readonly site: string;
  readonly interval_s: number;
  /** Of the intervals: from the start of the first to the end of the last. */
  readonly from: string;
  readonly to: string;
  /** Intervals left out in holes of the export. */
  readonly intervals_left_out: number;
  readonly export: ExportSummary;
  readonly chillers: Readonly<Record<string, ChillerSummary>>;
}
