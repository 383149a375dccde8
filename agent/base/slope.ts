/** How fast a quantity changes: a straight line through its readings by least squares, and how sure that is. */

export interface Slope {
  /** Per second. */
  readonly value: number;
  /** Standard uncertainty, k = 1, per second. */
  readonly u: number;
}

/** Readings below which scatter about a line says nothing. */
const READINGS_LEAST = 3;
/** Correlation of neighbouring residuals beyond which no more is made of it. */
const ALIKE_MOST = 0.99;

/**
 * Slope of `values` over `times` (ms) with the standard uncertainty that the residuals give it,
 * s / sqrt(sum (t - mean)^2) with n - 2 degrees of freedom. Neighbouring residuals that are alike (a level that swings,
 * a gateway that repeats a reading) are fewer than they look: u grows by sqrt((1 + r)/(1 - r)), r the correlation of
 * neighbours (effective number n (1 - r)/(1 + r): Santer et al., J. Geophys. Res. 105, 2000, from memory). Readings
 * that are rounded to `step` leave at least step/sqrt(6) over the time they span, which is the difference of two
 * rounded ends. Null for fewer than three readings, or where no time passes.
 */
export function slopeOf(times: ArrayLike<number>, values: ArrayLike<number>, step: number): Slope | null {
  const n = times.length;
  if (n < READINGS_LEAST) return null;
  const first = times[0] as number;
  const seconds = Float64Array.from({ length: n }, (_, i) => ((times[i] as number) - first) / 1000);
  const span = seconds[n - 1] as number;
  if (!(span > 0)) return null;
  const [meanTime, meanValue] = [average(seconds), average(values)];
  let [products, squares] = [0, 0];
  for (let i = 0; i < n; i++) {
    const away = (seconds[i] as number) - meanTime;
    products += away * ((values[i] as number) - meanValue);
    squares += away ** 2;
  }
  const value = products / squares;
  const residuals = seconds.map((t, i) => (values[i] as number) - meanValue - value * (t - meanTime));
  let [scatter, neighbours] = [0, 0];
  residuals.forEach((residual, i) => {
    scatter += residual ** 2;
    if (i > 0) neighbours += residual * (residuals[i - 1] as number);
  });
  const alike = scatter === 0 ? 0 : Math.min(ALIKE_MOST, Math.max(0, neighbours / scatter));
  const fromScatter = Math.sqrt((scatter / (n - 2) / squares) * ((1 + alike) / (1 - alike)));
  const u = Math.hypot(fromScatter, step / Math.sqrt(6) / span);
  return Number.isFinite(value + u) ? { value, u } : null;
}

function average(values: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i] as number;
  return sum / values.length;
}
