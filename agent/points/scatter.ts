/**
 * What the samples of one interval say of the error of their mean: evaluated from repeated observations (JCGM 100:2008,
 * 4.2.3), s^2/n.
 *
 * That formula takes the samples as independent. Often they are not: a reading moves slowly with the load, or a gateway
 * hands out the same reading several times. What moves slowly within an interval moves on into the next, so it must not
 * be counted as new there. The mean square successive difference d^2 = sum (x[i+1] - x[i])^2/(2 (n - 1)) (von Neumann,
 * Kent, Bellinson and Hart, 1941, from memory) is s^2 for independent samples and less for those that follow each
 * other: only that much of s^2/n is called new in the interval, the rest counts as kept. Neither a ramp nor a held
 * reading passes for noise that averages out.
 *
 * A register's resolution is not looked for: a reading that stands still shows no scatter, and what rounding then adds
 * is part of the accuracy that the site file states, the same all through.
 */
export interface Scatter {
  /** Standard deviation of the samples. */
  readonly spread: number;
  /** Standard uncertainty of the mean, k = 1, as far as the samples tell it. */
  readonly u: number;
  /** The part of `u` (in quadrature) that is new in each interval. */
  readonly u_random: number;
}

/** Of the samples in the order of their times, in any unit; null for fewer than two. */
export function scatterOf(values: readonly number[], mean: number): Scatter | null {
  const n = values.length;
  if (n < 2) return null;
  let [squares, steps] = [0, 0];
  for (let i = 0; i < n; i += 1) {
    const value = values[i] as number;
    squares += (value - mean) ** 2;
    if (i > 0) steps += (value - (values[i - 1] as number)) ** 2;
  }
  const spread = Math.sqrt(squares / (n - 1));
  const u = spread / Math.sqrt(n);
  return { spread, u, u_random: Math.min(u, Math.sqrt(steps / (2 * (n - 1)) / n)) };
}
