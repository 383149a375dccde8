/**
 * Orthogonal decomposition of a small dense matrix by Householder reflections with column pivoting: A P = Q R. It tells
 * the rank, and what of the rows no combination of the columns reaches. Golub & Van Loan, Matrix Computations, 5.4.
 */
import { type Vector, zeros } from '../vector.ts';

export class Qr {
  readonly rank: number;
  readonly #rows: number;
  readonly #columns: number;
  /** Column by column: R above the diagonal, reflectors from it on. */
  readonly #a: Vector[];
  readonly #diagonal: Vector;
  /** Column of A that stands at each place. */
  readonly pivot: Vector;

  /** `columns`: those of A, each `rows` long. `tolerance`: of the largest column, under which a rest counts as zero. */
  constructor(columns: readonly Vector[], rows: number, tolerance = 1e-10) {
    const n = columns.length;
    this.#rows = rows;
    this.#columns = n;
    this.#a = columns.map((column) => column.slice());
    this.#diagonal = zeros(n);
    this.pivot = Array.from({ length: n }, (_, at) => at);
    const size = Math.max(0, ...columns.map((column) => norm(column, 0)));
    let rank = 0;
    for (; rank < Math.min(rows, n); rank++) {
      const rest = this.#bring(rank);
      if (!(rest > tolerance * size)) break;
      this.#reflect(rank, rest);
    }
    this.rank = rank;
  }

  /** The longest rest of the columns from `at` on comes to that place; its length. */
  #bring(at: number): number {
    let [most, best] = [-1, at];
    for (let j = at; j < this.#columns; j++) {
      const rest = norm(this.#a[j] as Vector, at);
      if (rest > most) [most, best] = [rest, j];
    }
    [this.#a[at], this.#a[best]] = [this.#a[best] as Vector, this.#a[at] as Vector];
    [this.pivot[at], this.pivot[best]] = [this.pivot[best] as number, this.pivot[at] as number];
    return most;
  }

  #reflect(at: number, rest: number): void {
    const column = this.#a[at] as Vector;
    const head = column[at] as number;
    const alpha = head > 0 ? -rest : rest;
    column[at] = head - alpha;
    const scale = 1 / Math.sqrt(rest * (rest + Math.abs(head)));
    for (let i = at; i < this.#rows; i++) column[i] = (column[i] as number) * scale;
    this.#diagonal[at] = alpha;
    for (let j = at + 1; j < this.#columns; j++) apply(column, at, this.#a[j] as Vector);
  }

  /** Q' b. Rows from `rank` on hold what no combination of the columns reaches. */
  turned(b: Vector): Vector {
    const out = b.slice();
    for (let k = 0; k < this.rank; k++) apply(this.#a[k] as Vector, k, out);
    return out;
  }

  /** Q c. */
  back(c: Vector): Vector {
    const out = c.slice();
    for (let k = this.rank - 1; k >= 0; k--) apply(this.#a[k] as Vector, k, out);
    return out;
  }

  #r(i: number, j: number): number {
    return i === j ? (this.#diagonal[i] as number) : ((this.#a[j] as Vector)[i] as number);
  }

  /** Least squares of A x = b with zero where the columns leave a choice. */
  solve(b: Vector): Vector {
    const y = this.turned(b);
    const x = zeros(this.#columns);
    for (let i = this.rank - 1; i >= 0; i--) {
      let sum = y[i] as number;
      for (let j = i + 1; j < this.rank; j++) sum -= this.#r(i, j) * (y[j] as number);
      y[i] = sum / this.#r(i, i);
      x[this.pivot[i] as number] = y[i] as number;
    }
    return x;
  }

  /** w with R' w = P' c over the first `rank` places. */
  transposed(c: Vector): Vector {
    const w = zeros(this.rank);
    for (let i = 0; i < this.rank; i++) {
      let sum = c[this.pivot[i] as number] as number;
      for (let k = 0; k < i; k++) sum -= this.#r(k, i) * (w[k] as number);
      w[i] = sum / this.#r(i, i);
    }
    return w;
  }
}

/** v (v' b) off b, from row `at` on; v'v = 2. */
function apply(v: Vector, at: number, b: Vector): void {
  let sum = 0;
  for (let i = at; i < b.length; i++) sum += (v[i] as number) * (b[i] as number);
  if (sum === 0) return;
  for (let i = at; i < b.length; i++) b[i] = (b[i] as number) - sum * (v[i] as number);
}

function norm(column: Vector, from: number): number {
  let sum = 0;
  for (let i = from; i < column.length; i++) sum += (column[i] as number) ** 2;
  return Math.sqrt(sum);
}
