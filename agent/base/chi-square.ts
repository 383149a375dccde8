/**
 * Tail probabilities of the chi-square and the normal distribution, for tests of whether measurements contradict each
 * other. Regularized incomplete gamma function by its series below a + 1 and by its continued fraction (Lentz) above:
 * Abramowitz & Stegun 6.5.29 and 6.5.31; relative error about 1e-13.
 */

/** Lanczos coefficients for g = 7, n = 9 (Godfrey; relative error 1e-15; from memory, held by the tests). */
const LANCZOS = [
  0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313, -176.61502916214059,
  12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6, 1.5056327351493116e-7,
] as const;
const TERMS_MAX = 1000;
const NEAR_ENOUGH = 1e-15;

/** ln of the gamma function, `x` above 0.5. */
function lnGamma(x: number): number {
  const z = x - 1;
  let sum: number = LANCZOS[0];
  for (let k = 1; k < LANCZOS.length; k++) sum += (LANCZOS[k] as number) / (z + k);
  const t = z + 7.5;
  return 0.5 * Math.log(2 * Math.PI) + (z + 0.5) * Math.log(t) - t + Math.log(sum);
}

/** Q(a, x): upper regularized incomplete gamma function, a >= 0.5, x >= 0. */
function upperGamma(a: number, x: number): number {
  if (!(x > 0)) return x === 0 ? 1 : Number.NaN;
  if (x === Number.POSITIVE_INFINITY) return 0;
  const front = Math.exp(a * Math.log(x) - x - lnGamma(a));
  return x < a + 1 ? 1 - front * lowerSeries(a, x) : front * upperFraction(a, x);
}

function lowerSeries(a: number, x: number): number {
  let term = 1 / a;
  let sum = term;
  for (let n = 1; n < TERMS_MAX && term > sum * NEAR_ENOUGH; n++) {
    term *= x / (a + n);
    sum += term;
  }
  return sum;
}

function upperFraction(a: number, x: number): number {
  const tiny = 1e-300;
  let b = x + 1 - a;
  let c = 1 / tiny;
  let d = 1 / b;
  let h = d;
  for (let n = 1; n < TERMS_MAX; n++) {
    const factor = -n * (n - a);
    b += 2;
    d = factor * d + b;
    d = 1 / (Math.abs(d) < tiny ? tiny : d);
    c = b + factor / c;
    if (Math.abs(c) < tiny) c = tiny;
    h *= c * d;
    if (Math.abs(c * d - 1) < NEAR_ENOUGH) break;
  }
  return h;
}

/** Probability that chi-square of `dof` (>= 1) degrees of freedom exceeds `value`. */
export function chiSquareTail(value: number, dof: number): number {
  return upperGamma(dof / 2, value / 2);
}

/** Probability that a standard normal deviate is farther from zero than `z`. */
export function normalTails(z: number): number {
  return upperGamma(0.5, (z * z) / 2);
}

/** The z that a standard normal deviate exceeds in size with probability `p`, 0 < p < 1: by bisection. */
export function normalLimit(p: number): number {
  let [low, high] = [0, 40];
  for (let round = 0; round < 60; round++) {
    const middle = (low + high) / 2;
    if (normalTails(middle) > p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** The z that none of `tested` independent deviates exceeds with probability 1 - `level` (Sidak 1967). */
export function sidakLimit(tested: number, level: number): number {
  return normalLimit(1 - (1 - level) ** (1 / Math.max(1, tested)));
}
