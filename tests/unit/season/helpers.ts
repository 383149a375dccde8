/** Stored intervals for the tests of seasons: what an interval's record holds, made without the fold. */
import type { SeasonMinute } from '../../../agent/season/sums.ts';
import { seasonMinute } from '../../../agent/season/sums.ts';

export interface Given {
  readonly time?: number;
  readonly interval_s?: number;
  readonly state?: string;
  readonly economizer?: string;
  /** kW; null: missing. */
  readonly power?: number | null;
  readonly capacity?: number | null;
  readonly u_power?: number | null;
  readonly u_capacity?: number | null;
  /** Of kW/ton; left out: as power and capacity that have nothing in common give it. */
  readonly u_ratio?: number;
  /** Of every uncertainty: share of its square that is new in the interval. */
  readonly random_share?: number;
  readonly more?: Readonly<Record<string, number | null>>;
  readonly doubts?: readonly string[];
}

/** 12000 Btu/h, the international table Btu of 1055.05585262 J. */
export const KW_PER_TON = (12_000 * 1055.05585262) / 3600 / 1000;
export const RATED_KW = 1500 * KW_PER_TON;

/** The record as JSON text. Uncertainties (k = 2) default to 2 % of power and 3 % of capacity. */
export function recordOf(given: Given): string {
  const { interval_s = 60, state = 'steady', economizer = 'on', more = {}, doubts = [] } = given;
  const power = given.power === undefined ? 800 : given.power;
  const capacity = given.capacity === undefined ? 5000 : given.capacity;
  const values: Record<string, number | null> = { 'unit.power': power, 'unit.capacity': capacity, ...more };
  const uncertainty: Record<string, number> = {};
  const u_power = given.u_power === undefined && power !== null ? 0.02 * power : given.u_power;
  const u_capacity = given.u_capacity === undefined && capacity !== null ? 0.03 * Math.abs(capacity) : given.u_capacity;
  if (u_power != null) uncertainty['unit.power'] = u_power;
  if (u_capacity != null) uncertainty['unit.capacity'] = u_capacity;
  if (power !== null && capacity !== null) {
    const ratio = (power / capacity) * KW_PER_TON;
    values['unit.kw_per_ton'] = ratio;
    values['unit.load_fraction'] = capacity / RATED_KW;
    uncertainty['unit.kw_per_ton'] =
      given.u_ratio ?? ratio * Math.hypot((u_power ?? 0) / power, (u_capacity ?? 0) / capacity);
  }
  const quality = Object.fromEntries(doubts.map((name) => [name, { quality: 'uncertain', reason: 'not steady' }]));
  const named = given.random_share === undefined ? [] : Object.keys(uncertainty);
  const random_share = Object.fromEntries(named.map((name) => [name, given.random_share]));
  return JSON.stringify({ interval_s, state, economizer, values, uncertainty, random_share, quality });
}

export function minuteOf(given: Given): SeasonMinute {
  const minute = seasonMinute(JSON.parse(recordOf(given)), given.time ?? 0);
  if (minute === null) throw new Error('a record of an interval');
  return minute;
}

/** Whether two values of numbers and objects are the same but for the last digits. */
export function closeTo(a: unknown, b: unknown): boolean {
  if (typeof a === 'number' && typeof b === 'number')
    return Math.abs(a - b) <= 1e-9 * Math.max(1, Math.abs(a), Math.abs(b));
  if (typeof a !== 'object' || typeof b !== 'object' || a === null || b === null) return a === b;
  const [left, right] = [new Map(Object.entries(a)), new Map(Object.entries(b))];
  return left.size === right.size && [...left].every(([key, value]) => closeTo(value, right.get(key)));
}
