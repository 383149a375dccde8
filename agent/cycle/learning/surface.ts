/**
 * The learned efficiency between its cells: at a place a plane through the cells near it, by weighted least squares,
 * and the ratio of the efficiencies at two places with its uncertainty. What is off in both alike cancels. No answer
 * outside of what was seen.
 */
import type { Cell } from './cells.ts';

/** Reach of the plane in x and y from its place: 15 % of flow, 20 % of head. */
const REACH = { x: 0.15, y: 0.2 } as const;
/** Minutes that the reach must hold at least. */
const LEAST_MINUTES = 30;
/** Seen: at least so many minutes on either side of the flow, within so much of flow and head. */
const SIDE = { minutes: 5, x: 0.07, y: 0.06 } as const;
/** By so much a flow may lie beyond the last one seen: the mean of a cell stands inside it. */
const SLACK = 0.02;
/**
 * Minutes in a row that tell no more than one: what scatters (load, vanes, water) goes on from minute to minute. Common
 * practice, no source.
 */
const MINUTES_ALIKE = 10;
/** Least scatter of one minute, and what a plane leaves of a real surface within its reach; of ln efficiency. */
const SCATTER_LEAST = 0.001;
const UNEVEN_LEAST = 0.0005;
/**
 * Slopes of ln efficiency over ln flow and ln head before anything was seen: 0 with this standard deviation. Machines
 * run near the top of their hill. Common practice, no source.
 */
const SLOPE = 0.3;
/**
 * Days after which the air's pressure has forgotten two thirds of what it was, days in a row that count as one weather,
 * and the least time that lies between minutes at two flows. Common practice, no source.
 */
const WEATHER = { days: 2, alike: 3, least: 0.1 } as const;
/** Wear and drift between two times, of ln efficiency in a year, k = 1: common practice, no source. */
const DRIFT_A_YEAR = 0.01;
const YEAR_DAYS = 365.25;
/** Level, and slopes along x and y. */
const AXES = [0, 1, 2] as const;

interface Spot {
  readonly way: string;
  readonly x: number;
  readonly y: number;
}

export interface RatioAsked {
  /** Where the machine would be, and where it is. */
  readonly there: Spot;
  readonly here: Spot;
  /** Relative standard uncertainty of an efficiency, as far as both places share it, and as far as they do not. */
  readonly shared: number;
  readonly apart: number;
  /** The same by the air's pressure, of one day. */
  readonly air: number;
  /** Standard uncertainty of there.x - here.x. */
  readonly step: number;
}

/** Efficiency there over that here. */
export interface LearnedRatio {
  readonly value: number;
  /** k = 1 */
  readonly u: number;
  /** Steady minutes near the one of both places that has fewer. */
  readonly minutes: number;
}

/** Why there is none: one of both places was not seen. */
export interface Unseen {
  readonly unseen: 'there' | 'here';
  readonly minutes: number;
}

/** z at a place as a sum over cells, each `share` of its z; `slope` along x likewise. */
interface Plane {
  readonly share: ReadonlyMap<Cell, number>;
  readonly slope: number;
  /** What a unit of slope in x and y that was not seen would put z off by. */
  readonly off: readonly [number, number];
  /** Mean square by which the cells leave the plane, beyond what their scatter explains. */
  readonly uneven: number;
  readonly minutes: number;
  /** Of how many a cell's means are, in the mean. */
  readonly days: number;
}

export function learnedRatio(
  cells: readonly Cell[],
  { there, here, shared, apart, air, step }: RatioAsked,
): LearnedRatio | Unseen {
  const [end, start] = [planeAt(cells, there), planeAt(cells, here)];
  if (end.minutes < LEAST_MINUTES || !seen(cells, there)) return { unseen: 'there', minutes: end.minutes };
  if (start.minutes < LEAST_MINUTES || !seen(cells, here)) return { unseen: 'here', minutes: start.minutes };
  const share = new Map(end.share);
  for (const [cell, part] of start.share) share.set(cell, (share.get(cell) ?? 0) - part);
  const scatter = pooled([...share.keys()]);
  const uneven = Math.max(UNEVEN_LEAST ** 2, end.uneven, start.uneven);
  let [z, days, variance] = [0, 0, 0];
  for (const [cell, part] of share) {
    z += part * cell.z;
    days += part * cell.day;
    variance += part ** 2 * (spreadOf(cell, scatter) + uneven);
  }
  const unknown = SLOPE * Math.hypot(end.off[0] - start.off[0], end.off[1] - start.off[1]);
  const drift = (DRIFT_A_YEAR * Math.abs(days)) / YEAR_DAYS;
  const weather = air * changed(Math.abs(days), Math.min(end.days, start.days));
  // a reading that is off moves both efficiencies alike and their ratio by about that part of ln r
  const u = Math.hypot(Math.sqrt(variance), unknown, drift, shared * z, apart, weather, step * end.slope);
  return { value: Math.exp(z), u: u * Math.exp(z), minutes: Math.floor(Math.min(end.minutes, start.minutes)) };
}

/**
 * By how much the air's pressure differs between means over `over` days that lie `between` days apart, in its own
 * standard deviation.
 */
function changed(between: number, over: number): number {
  const [age, weathers] = [Math.max(between, WEATHER.least), Math.max(1, over / WEATHER.alike)];
  return Math.sqrt((2 * (1 - Math.exp(-age / WEATHER.days))) / weathers);
}

/** Minutes on either side of the flow at about this head: between them a plane does not reach out. */
function seen(cells: readonly Cell[], { way, x, y }: Spot): boolean {
  const near = cells.filter((cell) => cell.way === way && Math.abs(cell.y - y) <= SIDE.y);
  const minutes = (from: number, to: number): number =>
    near.reduce((sum, cell) => sum + (cell.x - x >= from && cell.x - x <= to ? cell.minutes : 0), 0);
  return minutes(-SIDE.x, SLACK) >= SIDE.minutes && minutes(-SLACK, SIDE.x) >= SIDE.minutes;
}

function planeAt(cells: readonly Cell[], { way, x, y }: Spot): Plane {
  const near = cells.flatMap((cell) => {
    const [dx, dy] = [cell.x - x, cell.y - y];
    const kernel = (1 - (dx / REACH.x) ** 2) * (1 - (dy / REACH.y) ** 2);
    const within = cell.way === way && Math.abs(dx) < REACH.x && Math.abs(dy) < REACH.y;
    return within ? [{ cell, kernel, row: [1, dx, dy] as const }] : [];
  });
  const sum = (of: (one: (typeof near)[number]) => number): number => near.reduce((total, one) => total + of(one), 0);
  const scatter = pooled(near.map(({ cell }) => cell));
  const weight = ({ cell, kernel }: (typeof near)[number]): number =>
    kernel / (spreadOf(cell, scatter) + UNEVEN_LEAST ** 2);
  const normal = AXES.map((i) =>
    AXES.map((j) => sum((one) => weight(one) * one.row[i] * one.row[j]) + (i === j && i > 0 ? SLOPE ** -2 : 0)),
  );
  const inverse = inverted(normal);
  // what each cell's z adds to level or slope
  const part = (one: (typeof near)[number], of: (typeof AXES)[number]): number =>
    weight(one) * AXES.reduce<number>((total, j) => total + (inverse[of]?.[j] ?? 0) * one.row[j], 0);
  const [level, bx, by] = AXES.map((of) => sum((one) => part(one, of) * one.cell.z)) as [number, number, number];
  const excess = sum(({ cell, kernel, row }) => {
    const left = (cell.z - level - bx * row[1] - by * row[2]) ** 2 - spreadOf(cell, scatter);
    return kernel * Math.max(0, left);
  });
  const kernels = sum(({ kernel }) => kernel);
  return {
    share: new Map(near.map((one) => [one.cell, part(one, 0)])),
    slope: bx,
    off: [sum((one) => part(one, 0) * one.row[1]), sum((one) => part(one, 0) * one.row[2])],
    uneven: kernels > 0 ? excess / kernels : 0,
    minutes: sum(({ cell, kernel }) => kernel * cell.minutes),
    days: kernels > 0 ? sum(({ cell, kernel }) => kernel * cell.days) / kernels : 1,
  };
}

/** Variance of one minute's z within its cell. */
function pooled(cells: readonly Cell[]): number {
  const minutes = cells.reduce((sum, cell) => sum + cell.minutes, 0);
  const within = cells.reduce((sum, cell) => sum + cell.minutes * cell.variance, 0);
  return Math.max(SCATTER_LEAST ** 2, minutes > 0 ? within / minutes : 0);
}

/** Variance of a cell's mean, where one minute scatters by that variance. */
function spreadOf({ minutes }: Cell, scatter: number): number {
  return scatter / Math.max(1, minutes / MINUTES_ALIKE);
}

/** Of a symmetric, positive definite matrix of three; all zero where there is none. */
function inverted(m: readonly (readonly number[])[]): number[][] {
  const at = (i: number, j: number): number => m[i % 3]?.[j % 3] ?? 0;
  const cofactor = (i: number, j: number): number =>
    at(i + 1, j + 1) * at(i + 2, j + 2) - at(i + 1, j + 2) * at(i + 2, j + 1);
  const determinant = AXES.reduce<number>((sum, j) => sum + at(0, j) * cofactor(0, j), 0);
  return AXES.map((i) => AXES.map((j) => (determinant > 0 ? cofactor(j, i) / determinant : 0)));
}
