/**
 * Weighted least squares with equality constraints, one linear step: measurements x = x0 + L xi with independent causes
 * xi of unit variance and unmeasured quantities u, under f(x, u) = 0. The unmeasured are eliminated by projection (what
 * Q' of df/du leaves over), then xi is the shortest that closes what is left. VDI 2048 part 1; Narasimhan & Jordache,
 * Data Reconciliation and Gross Error Detection (2000), chapters 3 and 7.
 */

import { type Vector, zeros } from '../vector.ts';
import { Qr } from './qr.ts';

/** One independent cause of error. */
export interface Cause {
  /** By how much it moves each input, one standard uncertainty of it. */
  readonly moves: ReadonlyMap<number, number>;
  /** Share of its variance that is new in each interval; the rest is the same all through. */
  readonly random: number;
}

/** Causes as flat columns: entry k says that cause `cause[k]` moves input `input[k]` by `amount[k]`. */
export class Causes {
  readonly count: number;
  readonly cause: Vector;
  readonly input: Vector;
  readonly amount: Vector;
  /** By cause: share of its variance that is new in each interval. */
  readonly random: Vector;

  constructor(causes: readonly Cause[]) {
    const rows = causes.flatMap(({ moves }, c) => [...moves].map(([input, amount]) => [c, input, amount] as const));
    this.count = causes.length;
    this.random = causes.map(({ random }) => random);
    this.cause = rows.map(([c]) => c);
    this.input = rows.map(([, input]) => input);
    this.amount = rows.map(([, , amount]) => amount);
  }
}

export interface Linearized {
  /** f where it stands. */
  readonly residual: Vector;
  /** df/dx, a column for each input. */
  readonly measured: readonly Vector[];
  /** df/du, a column for each unmeasured quantity. */
  readonly unmeasured: readonly Vector[];
}

/** Of the largest: what counts as no sensitivity at all. */
const UNMEASURED_RANK = 1e-9;
const CONSTRAINT_RANK = 1e-6;

export class Adjustment {
  /** Independent constraints left on the measurements. */
  readonly dof: number;
  readonly chiSquare: number;
  /** Causes as estimated, and what follows for each input, in its own unit. */
  readonly xi: Vector;
  readonly correction: Vector;
  /** Change of each unmeasured quantity that goes with it; 0 for those that nothing determines. */
  readonly step: Vector;
  readonly #constraints: Qr;
  /** Orthonormal directions in the space of causes that the constraints tell. */
  readonly #told: readonly Vector[];
  /** df/dx without the unmeasured, a column for each input. */
  readonly #reduced: readonly Vector[];
  readonly #w: Vector;

  /** `at`: the causes assumed where `linearized` was taken; left out: none, the measurements as they are. */
  constructor(linearized: Linearized, causes: Causes, at?: Vector) {
    const { residual, measured, unmeasured } = linearized;
    const rows = residual.length;
    const elimination = new Qr(unmeasured, rows, UNMEASURED_RANK);
    const rest = (column: Vector) => elimination.turned(column).slice(elimination.rank);
    const still = zeros(rows - elimination.rank);
    this.#reduced = measured.map((column) => (isZero(column) ? still : rest(column)));
    const target = rest(residual).map((value) => -value);
    const left = rows - elimination.rank;
    const byRow = Array.from({ length: left }, () => zeros(causes.count));
    for (let k = 0; k < causes.cause.length; k++) {
      const column = this.#reduced[causes.input[k] as number] as Vector;
      const c = causes.cause[k] as number;
      for (let row = 0; row < left; row++)
        (byRow[row] as Vector)[c]! += (column[row] as number) * (causes.amount[k] as number);
    }
    if (at !== undefined)
      byRow.forEach((row, k) => {
        target[k] = (target[k] as number) + dot(row, at);
      });
    this.#constraints = new Qr(byRow, causes.count, CONSTRAINT_RANK);
    this.dof = this.#constraints.rank;
    this.#told = Array.from({ length: this.dof }, (_, at) => {
      const unit = zeros(causes.count);
      unit[at] = 1;
      return this.#constraints.back(unit);
    });
    this.#w = this.#constraints.transposed(target);
    this.chiSquare = dot(this.#w, this.#w);
    this.xi = zeros(causes.count);
    this.#told.forEach((direction, at) => {
      addTimes(this.xi, direction, this.#w[at] as number);
    });
    this.correction = zeros(measured.length);
    const beyond = residual.slice();
    for (let k = 0; k < causes.cause.length; k++) {
      const [c, input, amount] = [causes.cause[k] as number, causes.input[k] as number, causes.amount[k] as number];
      this.correction[input]! += (this.xi[c] as number) * amount;
      addTimes(beyond, measured[input] as Vector, ((this.xi[c] as number) - (at?.[c] ?? 0)) * amount);
    }
    this.step = elimination.solve(beyond.map((value) => -value));
  }

  /**
   * What a value that moves by `j` with each cause keeps of it once the constraints are taken into account: the square
   * sum is its variance, the product sum of two their covariance. Changes `j` and returns it.
   */
  kept(j: Vector): Vector {
    for (const direction of this.#told) addTimes(j, direction, -dot(direction, j));
    return j;
  }

  /**
   * How an error of one unit in some inputs (input: amount) shows in the constraints, in units of their standard
   * deviation. Two errors whose signatures are multiples of each other cannot be told apart; zero: nothing checks it.
   */
  signature(error: ReadonlyMap<number, number>): Vector {
    const shown = zeros(this.#reduced[0]?.length ?? 0);
    for (const [input, amount] of error) {
      const column = this.#reduced[input] as Vector;
      for (let row = 0; row < shown.length; row++) shown[row]! += (column[row] as number) * amount;
    }
    return this.#constraints.transposed(shown);
  }

  /** What the constraints are off by, in the same units as signatures: an error that explains it all is -closure. */
  get closure(): Vector {
    return this.#w;
  }
}

export function dot(a: Vector, b: Vector): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] as number) * (b[i] as number);
  return sum;
}

function isZero(column: Vector): boolean {
  for (let i = 0; i < column.length; i++) if (column[i] !== 0) return false;
  return true;
}

function addTimes(to: Vector, what: Vector, times: number): void {
  for (let i = 0; i < to.length; i++) to[i] = (to[i] as number) + times * (what[i] as number);
}

/**
 * How a value that moves by `by` with each input (per unit of it) moves with each independent cause, with or without
 * an adjustment: the square sum is its variance.
 */
export function propagated(by: Vector, causes: Causes, adjustment: Adjustment | null): Vector {
  const j = zeros(causes.count);
  for (let k = 0; k < causes.cause.length; k++)
    j[causes.cause[k] as number]! += (by[causes.input[k] as number] as number) * (causes.amount[k] as number);
  return adjustment === null ? j : adjustment.kept(j);
}

/**
 * Share of the variance of a value that is new in each interval; `kept` as `propagated` gives it. An error that is new
 * and one that lasts reach the value by the same way, whatever the balances make of it: a cause that holds both hands
 * them on in the shares that it has.
 */
export function randomShare(kept: Vector, { random }: Causes): number {
  let [all, fresh] = [0, 0];
  for (let c = 0; c < kept.length; c++) {
    const part = (kept[c] as number) ** 2;
    all += part;
    fresh += (random[c] as number) * part;
  }
  return all > 0 ? fresh / all : 0;
}
