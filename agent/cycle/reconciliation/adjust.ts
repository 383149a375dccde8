/**
 * Weighted least squares with equality constraints, one linear step: measurements x = x0 + L xi with independent causes
 * xi of unit variance and unmeasured quantities u, under f(x, u) = 0. The unmeasured are eliminated by projection (what
 * Q' of df/du leaves over), then xi is the shortest that closes what is left. VDI 2048 part 1; Narasimhan & Jordache,
 * Data Reconciliation and Gross Error Detection (2000), chapters 3 and 7.
 */
import { Qr } from './qr.ts';

/** One independent cause of error: by how much it moves each input, one standard uncertainty of it. */
export type Cause = ReadonlyMap<number, number>;

export interface Linearized {
  /** f where it stands. */
  readonly residual: Float64Array;
  /** df/dx, a column for each input. */
  readonly measured: readonly Float64Array[];
  /** df/du, a column for each unmeasured quantity. */
  readonly unmeasured: readonly Float64Array[];
}

/** Of the largest: what counts as no sensitivity at all. */
const UNMEASURED_RANK = 1e-9;
const CONSTRAINT_RANK = 1e-6;

export class Adjustment {
  /** Independent constraints left on the measurements. */
  readonly dof: number;
  readonly chiSquare: number;
  /** Causes as estimated, and what follows for each input, in its own unit. */
  readonly xi: Float64Array;
  readonly correction: Float64Array;
  /** Change of each unmeasured quantity that goes with it; 0 for those that nothing determines. */
  readonly step: Float64Array;
  readonly #constraints: Qr;
  /** df/dx without the unmeasured, a column for each input. */
  readonly #reduced: readonly Float64Array[];
  readonly #w: Float64Array;

  /** `at`: the causes assumed where `linearized` was taken; left out: none, the measurements as they are. */
  constructor(linearized: Linearized, causes: readonly Cause[], at?: Float64Array) {
    const { residual, measured, unmeasured } = linearized;
    const rows = residual.length;
    const elimination = new Qr(unmeasured, rows, UNMEASURED_RANK);
    const rest = (column: Float64Array) => elimination.turned(column).slice(elimination.rank);
    this.#reduced = measured.map(rest);
    const target = rest(residual).map((value) => -value);
    const left = rows - elimination.rank;
    const byRow = Array.from({ length: left }, () => new Float64Array(causes.length));
    causes.forEach((cause, c) => {
      for (const [input, amount] of cause) {
        const column = this.#reduced[input] as Float64Array;
        for (let row = 0; row < left; row++) (byRow[row] as Float64Array)[c]! += (column[row] as number) * amount;
      }
    });
    if (at !== undefined)
      byRow.forEach((row, k) => {
        target[k] = (target[k] as number) + dot(row, at);
      });
    this.#constraints = new Qr(byRow, causes.length, CONSTRAINT_RANK);
    this.dof = this.#constraints.rank;
    this.#w = this.#constraints.transposed(target);
    this.chiSquare = dot(this.#w, this.#w);
    const turned = new Float64Array(causes.length);
    turned.set(this.#w);
    this.xi = this.#constraints.back(turned);
    this.correction = new Float64Array(measured.length);
    const beyond = Float64Array.from(residual);
    causes.forEach((cause, c) => {
      for (const [input, amount] of cause) {
        this.correction[input]! += (this.xi[c] as number) * amount;
        const more = ((this.xi[c] as number) - (at?.[c] ?? 0)) * amount;
        const column = measured[input] as Float64Array;
        for (let row = 0; row < rows; row++) beyond[row]! += (column[row] as number) * more;
      }
    });
    this.step = elimination.solve(beyond.map((value) => -value));
  }

  /**
   * What a value that moves by `j` with each cause keeps of it once the constraints are taken into account: the square
   * sum is its variance, the product sum of two their covariance.
   */
  kept(j: Float64Array): Float64Array {
    const turned = this.#constraints.turned(j);
    turned.fill(0, 0, this.dof);
    return this.#constraints.back(turned);
  }

  /**
   * How an error of one unit in some inputs (input: amount) shows in the constraints, in units of their standard
   * deviation. Two errors whose signatures are multiples of each other cannot be told apart; zero: nothing checks it.
   */
  signature(error: ReadonlyMap<number, number>): Float64Array {
    const shown = new Float64Array(this.#reduced[0]?.length ?? 0);
    for (const [input, amount] of error) {
      const column = this.#reduced[input] as Float64Array;
      for (let row = 0; row < shown.length; row++) shown[row]! += (column[row] as number) * amount;
    }
    return this.#constraints.transposed(shown);
  }

  /** What the constraints are off by, in the same units as signatures: an error that explains it all is -closure. */
  get closure(): Float64Array {
    return this.#w;
  }
}

export function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] as number) * (b[i] as number);
  return sum;
}

/**
 * How a value that moves by `by` with each input (per unit of it) moves with each independent cause, with or without
 * an adjustment: the square sum is its variance.
 */
export function propagated(by: Float64Array, causes: readonly Cause[], adjustment: Adjustment | null): Float64Array {
  const j = new Float64Array(causes.length);
  causes.forEach((cause, c) => {
    for (const [input, amount] of cause) j[c]! += (by[input] as number) * amount;
  });
  return adjustment === null || adjustment.dof === 0 ? j : adjustment.kept(j);
}
