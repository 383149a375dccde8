/**
 * Least squares by Householder reflections: linear, and nonlinear by Gauss-Newton steps with halving. The normal
 * equations are never formed, for they square the condition of the problem.
 * Sources: Golub & Van Loan, Matrix Computations (QR by Householder); Bates & Watts, Nonlinear Regression Analysis
 * (Gauss-Newton, standard errors from the Jacobian at the solution).
 */

/** Rows of numbers: one row an observation, one column a parameter. */
export type Rows = readonly (readonly number[])[];

export interface LeastSquares {
  readonly parameters: readonly number[];
  /** Inverse of J'J: times the residual variance it is the covariance of the parameters. */
  readonly inverse: Rows;
  /** Observed less fitted. */
  readonly residuals: readonly number[];
  /** Observations less parameters. */
  readonly freedom: number;
}

/** A column that the others give to so many digits is no column of its own. */
const RANK_TOLERANCE = 1e-12;
const STEPS_MAX = 100;
const HALVINGS_MAX = 30;
/** Step over parameters, by the length of their effect on the fitted values. */
const CONVERGED = 1e-12;

/** Null where the columns do not determine the parameters, or there are no more observations than parameters. */
export function linearLeastSquares(rows: Rows, observed: readonly number[]): LeastSquares | null {
  const count = rows[0]?.length ?? 0;
  const freedom = rows.length - count;
  if (count === 0 || freedom < 1) return null;
  const columns = Array.from({ length: count }, (_, column) => Float64Array.from(rows, (row) => row[column] as number));
  const scales = columns.map((column) => length(column, 0));
  if (scales.some((scale) => !(scale > 0))) return null;
  columns.forEach((column, index) => {
    for (let n = 0; n < column.length; n += 1) column[n] = (column[n] as number) / (scales[index] as number);
  });
  const factors = householder(columns, Float64Array.from(observed));
  if (factors === null) return null;
  const upper = invertUpper(factors.upper);
  const parameters = upper.map(
    (row, i) => row.reduce((sum, value, k) => sum + value * (factors.rotated[k] as number), 0) / (scales[i] as number),
  );
  const inverse = upper.map((a, i) =>
    upper.map(
      (b, j) =>
        a.reduce((sum, value, k) => sum + value * (b[k] as number), 0) /
        ((scales[i] as number) * (scales[j] as number)),
    ),
  );
  const residuals = rows.map((row, n) => (observed[n] as number) - dot(row, parameters));
  return { parameters, inverse, residuals, freedom };
}

export function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, index) => sum + value * (b[index] as number), 0);
}

/** g'Mg of a symmetric matrix. */
export function quadratic(matrix: Rows, g: readonly number[]): number {
  return matrix.reduce((sum, row, i) => sum + (g[i] as number) * dot(row, g), 0);
}

interface Factors {
  readonly upper: number[][];
  /** The first entries of Q'y. */
  readonly rotated: number[];
}

/** Changes what it is given. */
function householder(columns: readonly Float64Array[], side: Float64Array): Factors | null {
  const all = [...columns, side];
  const count = columns.length;
  for (const [k, column] of columns.entries()) {
    const size = length(column, k);
    if (!(size > RANK_TOLERANCE)) return null;
    const normal = column.slice(k);
    normal[0] = (normal[0] as number) + ((normal[0] as number) > 0 ? size : -size);
    const square = length(normal, 0) ** 2;
    for (const other of all.slice(k)) {
      let along = 0;
      for (let n = 0; n < normal.length; n += 1) along += (normal[n] as number) * (other[n + k] as number);
      const factor = (2 * along) / square;
      for (let n = 0; n < normal.length; n += 1)
        other[n + k] = (other[n + k] as number) - factor * (normal[n] as number);
    }
  }
  return {
    upper: columns.map((_, i) => columns.map((column, j) => (j < i ? 0 : (column[i] as number)))),
    rotated: [...side.slice(0, count)],
  };
}

function length(column: Float64Array, from: number): number {
  let sum = 0;
  for (let n = from; n < column.length; n += 1) sum += (column[n] as number) ** 2;
  return Math.sqrt(sum);
}

function invertUpper(upper: Rows): number[][] {
  const count = upper.length;
  const inverse = upper.map(() => new Array<number>(count).fill(0));
  for (let column = 0; column < count; column += 1)
    for (let i = column; i >= 0; i -= 1) {
      let sum = i === column ? 1 : 0;
      for (let k = i + 1; k <= column; k += 1) sum -= (upper[i]?.[k] as number) * (inverse[k]?.[column] as number);
      (inverse[i] as number[])[column] = sum / (upper[i]?.[i] as number);
    }
  return inverse;
}

/** Fitted values of all observations at some parameters, with their derivatives; null where there are none. */
export type Fitted = (
  parameters: readonly number[],
) => { readonly values: readonly number[]; readonly rows: Rows } | null;

/** Null where it does not settle. `start` must have fitted values. */
export function nonlinearLeastSquares(
  fitted: Fitted,
  { observed, start }: { readonly observed: readonly number[]; readonly start: readonly number[] },
): LeastSquares | null {
  let parameters = start;
  let here = fitted(parameters);
  for (let step = 0; step < STEPS_MAX && here !== null; step += 1) {
    const residuals = observed.map((value, n) => value - (here?.values[n] as number));
    const solved = linearLeastSquares(here.rows, residuals);
    if (solved === null) return null;
    const moved = here.rows.map((row) => dot(row, solved.parameters));
    if (dot(moved, moved) <= CONVERGED ** 2 * dot(here.values, here.values))
      return { ...solved, parameters, residuals };
    const next = shortened(fitted, {
      observed,
      parameters,
      step: solved.parameters,
      square: dot(residuals, residuals),
    });
    if (next === null) return { ...solved, parameters, residuals };
    ({ parameters, here } = next);
  }
  return null;
}

/** The longest of the halved steps that makes the sum of squares smaller; null where none does. */
function shortened(
  fitted: Fitted,
  from: {
    readonly observed: readonly number[];
    readonly parameters: readonly number[];
    readonly step: readonly number[];
    readonly square: number;
  },
): { readonly parameters: readonly number[]; readonly here: NonNullable<ReturnType<Fitted>> } | null {
  let share = 1;
  for (let halving = 0; halving < HALVINGS_MAX; halving += 1, share /= 2) {
    const parameters = from.parameters.map((value, index) => value + share * (from.step[index] as number));
    const here = fitted(parameters);
    if (here === null) continue;
    const residuals = from.observed.map((value, n) => value - (here.values[n] as number));
    if (dot(residuals, residuals) < from.square) return { parameters, here };
  }
  return null;
}
