import fc from 'fast-check';
import type { Refrigerant } from '../../../agent/refrigerant/types.ts';

export const RUNS = 400;

function between(min: number, max: number): fc.Arbitrary<number> {
  return fc.double({ min, max, noNaN: true });
}

/** Temperatures of the whole saturation line. */
export function saturationTemperatures(fluid: Refrigerant): fc.Arbitrary<number> {
  return between(fluid.range.T_min, fluid.range.saturation.T_max);
}

/** Pressures of the whole saturation line, evenly in the logarithm. */
export function saturationPressures(fluid: Refrigerant): fc.Arbitrary<number> {
  const { p_min, p_max } = fluid.range.saturation;
  return between(Math.log(p_min), Math.log(p_max)).map((x) => Math.min(p_max, Math.max(p_min, Math.exp(x))));
}

/** Any T and p of the range, p evenly in the logarithm. */
export function temperaturesAndPressures(fluid: Refrigerant): fc.Arbitrary<readonly [T: number, p: number]> {
  const { T_min, T_max, p_min, p_max } = fluid.range;
  const p = between(Math.log(p_min), Math.log(p_max)).map((x) => Math.min(p_max, Math.max(p_min, Math.exp(x))));
  return fc.tuple(between(T_min, T_max), p);
}

/** Any number whatever, with those that break code well represented. */
export const anyNumber: fc.Arbitrary<number> = fc.oneof(
  fc.double(),
  fc.double({ min: -1e7, max: 1e7 }),
  fc.double({ min: 0, max: 1e3 }),
  fc.constantFrom(
    0,
    -0,
    Number.NaN,
    Number.POSITIVE_INFINITY,
    Number.NEGATIVE_INFINITY,
    Number.MAX_VALUE,
    Number.MIN_VALUE,
    1e-300,
  ),
);
