/**
 * Shape of an oscillation by half-cycles: triangular or sine (after He et al. 2007, Ind. Eng. Chem. Res. 46, from
 * memory). Both shapes rise from zero to a peak whose place is fitted, and fall to zero again, so that neither has a
 * parameter more.
 */
import type { HalfCycle } from './oscillation.ts';

/** Places of the peak that are tried, part of the half-cycle. */
const PEAKS = [0.2, 0.28, 0.36, 0.43, 0.5, 0.57, 0.64, 0.72, 0.8];
/** A half-cycle needs so many samples to have a shape. */
const LEAST = 4;

/** Rest of the best fit of `height * form(t)`, sum of squares. */
function misfit(values: Float64Array, half: HalfCycle, form: (share: number) => number): number {
  let least = Number.POSITIVE_INFINITY;
  const length = half.to - half.from;
  for (const peak of PEAKS) {
    let [product, square, energy] = [0, 0, 0];
    for (let i = Math.ceil(half.from); i <= Math.floor(half.to); i++) {
      const t = (i - half.from) / length;
      const share = t < peak ? t / peak : (1 - t) / (1 - peak);
      const shape = form(share);
      const value = values[i] as number;
      product += shape * value;
      square += shape * shape;
      energy += value * value;
    }
    if (square > 0) least = Math.min(least, energy - (product * product) / square);
  }
  return Math.max(0, least);
}

/**
 * Shape index: misfit of the sine over misfits of sine and triangle. 1: triangular, 0: sine, 0.5: cannot be told. What
 * noise (variance per sample) adds to both is taken off first. Null where half-cycles have too few samples.
 */
export function shapeIndex(values: Float64Array, halves: readonly HalfCycle[], noise: number): number | null {
  let [sine, triangle, energy, samples] = [0, 0, 0, 0];
  let used = 0;
  for (const half of halves) {
    const n = Math.floor(half.to) - Math.ceil(half.from) + 1;
    if (n < LEAST) continue;
    used++;
    sine += misfit(values, half, (share) => Math.sin((Math.PI / 2) * share));
    triangle += misfit(values, half, (share) => share);
    energy += n * half.amplitude ** 2;
    // Two parameters are fitted.
    samples += Math.max(0, n - 2);
  }
  if (used < 6 || energy === 0) return null;
  const floor = 5e-4 * energy;
  const [a, b] = [Math.max(0, sine - samples * noise) + floor, Math.max(0, triangle - samples * noise) + floor];
  return a / (a + b);
}
