/**
 * Orthogonal decomposition of a small dense matrix by Householder reflections with column pivoting: A P = Q R. It tells
 * the rank, and what of the rows no combination of the columns reaches. Golub & Van Loan, Matrix Computations, 5.4.
 */
export class Qr {
  readonly rank: number;
  readonly #rows: number;
  readonly #columns: number;
  /** Column by column: R above the diagonal, reflectors from it on. */
  readonly #a: Float64Array[];
  readonly #diagonal: Float64Array;
  /** Column of A that stands at each place. */
  readonly pivot: Int32Array;

  /** `columns`: those of A, each `rows` long. `tolerance`: of the largest column, under which a rest counts as zero. */
  constructor(columns: readonly Float64Array[], rows: number, tolerance = 1e-10) {
    const n = columns.length;
    this.#rows = rows;
    this.#columns = n;
    this.#a = columns.map((column) => Float64Array.from(column));
    this.#diagonal = new Float64Array(n);
    this.pivot = Int32Array.from({ length: n }, (_, at) => at);
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
      const rest = norm(this.#a[j] as Float64Array, at);
      if (rest > most) [most, best] = [rest, j];
    }
    [this.#a[at], this.#a[best]] = [this.#a[best] as Float64Array, this.#a[at] as Float64Array];
    [this.pivot[at], this.pivot[best]] = [this.pivot[best] as number, this.pivot[at] as number];
    return most;
  }

  #reflect(at: number, rest: number): void {
    const column = this.#a[at] as Float64Array;
    const head = column[at] as number;
    const alpha = head > 0 ? -rest : rest;
    column[at] = head - alpha;
    const scale = 1 / Math.sqrt(rest * (rest + Math.abs(head)));
    for (let i = at; i < this.#rows; i++) column[i] = (column[i] as number) * scale;
    this.#diagonal[at] = alpha;
    for (let j = at + 1; j < this.#columns; j++) apply(column, at, this.#a[j] as Float64Array);
  }

  /** Q' b. Rows from `rank` on hold what no combination of the columns reaches. */
  turned(b: Float64Array): Float64Array {
    const out = Float64Array.from(b);
    for (let k = 0; k < this.rank; k++) apply(this.#a[k] as Float64Array, k, out);
    return out;
  }

  /** Q c. */
  back(c: Float64Array): Float64Array {
    const out = Float64Array.from(c);
    for (let k = this.rank - 1; k >= 0; k--) apply(this.#a[k] as Float64Array, k, out);
    return out;
  }

  #r(i: number, j: number): number {
    return i === j ? (this.#diagonal[i] as number) : ((this.#a[j] as Float64Array)[i] as number);
  }

  /** Least squares of A x = b with zero where the columns leave a choice. */
  solve(b: Float64Array): Float64Array {
    const y = this.turned(b);
    const x = new Float64Array(this.#columns);
    for (let i = this.rank - 1; i >= 0; i--) {
      let sum = y[i] as number;
      for (let j = i + 1; j < this.rank; j++) sum -= this.#r(i, j) * (y[j] as number);
      y[i] = sum / this.#r(i, i);
      x[this.pivot[i] as number] = y[i] as number;
    }
    return x;
  }

  /** w with R' w = P' c over the first `rank` places. */
  transposed(c: Float64Array): Float64Array {
    const w = new Float64Array(this.rank);
    for (let i = 0; i < this.rank; i++) {
      let sum = c[this.pivot[i] as number] as number;
      for (let k = 0; k < i; k++) sum -= this.#r(k, i) * (w[k] as number);
      w[i] = sum / this.#r(i, i);
    }
    return w;
  }
}

/** v (v' b) off b, from row `at` on; v'v = 2. */
function apply(v: Float64Array, at: number, b: Float64Array): void {
  let sum = 0;
  for (let i = at; i < b.length; i++) sum += (v[i] as number) * (b[i] as number);
  if (sum === 0) return;
  for (let i = at; i < b.length; i++) b[i] = (b[i] as number) - sum * (v[i] as number);
}

function norm(column: Float64Array, from: number): number {
  let sum = 0;
  for (let i = from; i < column.length; i++) sum += (column[i] as number) ** 2;
  return Math.sqrt(sum);
}
