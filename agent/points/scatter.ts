/**
 * What the samples of one interval say of the error of their mean: evaluated from repeated observations (JCGM 100:2008,
 * 4.2.3), s^2/n, as if the samples were independent.
 *
 * Often they are not: a reading moves with the load, or a gateway hands out the same reading several times. What moves
 * slowly within an interval moves on into the next and must not be counted as new there. The mean square successive
 * difference d^2 = sum (x[i+1] - x[i])^2/(2 (n - 1)) is s^2 for independent samples and less where they follow each
 * other; for independent ones d^2/s^2 has the mean 1 and the variance (n - 2)/(n^2 - 1) (von Neumann, Annals of
 * Mathematical Statistics 12, 1941, from memory). Where it is three of its standard deviations below 1, d^2/n alone
 * counts as new in the interval, and the rest of s^2/n as lasting. Fewer than nine samples hardly ever show that; then
 * all of their scatter counts as new.
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

/** In standard deviations of d^2/s^2: one minute in a thousand with independent samples is mistaken. */
const FOLLOW_EACH_OTHER = 3;

/** Of the samples in the order of their times, in any unit, and their mean; null for fewer than two. */
export function scatterOf(values: readonly number[], mean: number): Scatter | null {
  const n = values.length;
  if (n < 2) return null;
  let [squares, steps] = [0, 0];
  for (let i = 0; i < n; i += 1) {
    const value = values[i] as number;
    squares += (value - mean) ** 2;
    if (i > 0) steps += (value - (values[i - 1] as number)) ** 2;
  }
  const variance = squares / (n - 1);
  const successive = steps / (2 * (n - 1));
  const least = variance * (1 - FOLLOW_EACH_OTHER * Math.sqrt((n - 2) / (n ** 2 - 1)));
  const u = Math.sqrt(variance / n);
  return { spread: Math.sqrt(variance), u, u_random: successive < least ? Math.sqrt(successive / n) : u };
}
