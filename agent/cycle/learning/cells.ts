/**
 * What was learned of the main compressor's efficiency: cells over suction flow and head, each with the mean of the
 * steady minutes that fell into it. Plain JSON, bounded, kept with the fold's state.
 */
import { LIMITS } from '../../base/limits.ts';

/**
 * One minute's place, dimensionless for every suction state: x = ln(V1/a1 in m2), y = ln(H_s/a1^2) with suction volume
 * flow V1, isentropic head H_s and sound speed a1 at suction; z = ln of the efficiency there.
 */
export interface Place {
  readonly x: number;
  readonly y: number;
  readonly z: number;
}

/**
 * Means of x, y, z and variance of z, all weighted towards the newest; the mean day since the epoch, the last one, and
 * of how many days the means are.
 */
export interface Cell extends Place {
  /** How the machine ran, as far as its efficiency or its flow depend on it. */
  readonly way: string;
  /** Minutes behind the means, up to `MINUTES_MAX`. */
  readonly minutes: number;
  readonly variance: number;
  readonly day: number;
  readonly last: number;
  readonly days: number;
}

/** Width of a cell in x and y: 5 % of flow, 8 % of head. */
const WIDTH = { x: 0.05, y: 0.08 } as const;
/** From so many minutes in a cell on the newest push the oldest out: half of what is older than 8 h there has gone. */
const MINUTES_MAX = 720;
/** Days after which a cell is forgotten: a season comes round once a year. */
const DAYS_MAX = 400;

/** One more minute, of so many minutes' `weight`; `day`: days since the epoch, with their part. */
export function withMinute(
  cells: readonly Cell[],
  way: string,
  { place, weight, day }: { readonly place: Place; readonly weight: number; readonly day: number },
): readonly Cell[] {
  const kept = cells.filter((cell) => cell.last > day - DAYS_MAX);
  const at = kept.findIndex((cell) => cell.way === way && sameCell(cell, place));
  const before = kept[at];
  if (before !== undefined) return kept.with(at, moved(before, { place, weight, day }));
  const next = [...kept, fresh(way, { place, weight, day })];
  if (next.length <= LIMITS.learned_cells_max) return next;
  // the one longest not visited makes room
  const oldest = next.reduce((least, cell, i) => (cell.last < (next[least] as Cell).last ? i : least), 0);
  return next.toSpliced(oldest, 1);
}

function fresh(way: string, { place, weight, day }: { place: Place; weight: number; day: number }): Cell {
  return short({ way, minutes: weight, ...place, variance: 0, day, last: Math.floor(day), days: 1 });
}

function moved(cell: Cell, { place, weight, day }: { place: Place; weight: number; day: number }): Cell {
  const minutes = Math.min(MINUTES_MAX, cell.minutes + weight);
  const share = Math.min(1, weight / minutes);
  const toward = (from: number, to: number) => from + share * (to - from);
  return short({
    way: cell.way,
    minutes,
    x: toward(cell.x, place.x),
    y: toward(cell.y, place.y),
    z: toward(cell.z, place.z),
    variance: (1 - share) * (cell.variance + share * (place.z - cell.z) ** 2),
    day: toward(cell.day, day),
    last: Math.floor(day),
    days: cell.days * (minutes < MINUTES_MAX ? 1 : 1 - share) + (Math.floor(day) > cell.last ? 1 : 0),
  });
}

/** A mean lies in the cell that its minutes lay in. */
function sameCell(cell: Place, place: Place): boolean {
  return number(cell.x, WIDTH.x) === number(place.x, WIDTH.x) && number(cell.y, WIDTH.y) === number(place.y, WIDTH.y);
}

function number(value: number, width: number): number {
  return Math.floor(value / width);
}

/** Digits enough for a slow mean to move, few enough for a state that is stored each minute. */
function short({ minutes, x, y, z, variance, day, days, ...rest }: Cell): Cell {
  const digits = (value: number, places: number): number => Number(value.toFixed(places));
  return {
    ...rest,
    minutes: digits(minutes, 3),
    x: digits(x, 7),
    y: digits(y, 7),
    z: digits(z, 7),
    variance: Number(variance.toPrecision(4)),
    day: digits(day, 3),
    days: digits(days, 3),
  };
}
