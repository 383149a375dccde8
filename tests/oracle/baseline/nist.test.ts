/**
 * Goal: the least squares under the baselines are right to the digits that double arithmetic allows. Method: NIST
 * Statistical Reference Datasets, certified with arithmetic of 500 digits: Longley (higher difficulty) and NoInt1 for
 * the linear part, Misra1a for the nonlinear one. Data and certified values from memory, compared with copies in
 * public test suites of statistics libraries.
 */
import { describe, expect, test } from 'vitest';
import { linearLeastSquares, nonlinearLeastSquares } from '../../../agent/baseline/least-squares.ts';

const LONGLEY = [
  [60323, 83.0, 234289, 2356, 1590, 107608, 1947],
  [61122, 88.5, 259426, 2325, 1456, 108632, 1948],
  [60171, 88.2, 258054, 3682, 1616, 109773, 1949],
  [61187, 89.5, 284599, 3351, 1650, 110929, 1950],
  [63221, 96.2, 328975, 2099, 3099, 112075, 1951],
  [63639, 98.1, 346999, 1932, 3594, 113270, 1952],
  [64989, 99.0, 365385, 1870, 3547, 115094, 1953],
  [63761, 100.0, 363112, 3578, 3350, 116219, 1954],
  [66019, 101.2, 397469, 2904, 3048, 117388, 1955],
  [67857, 104.6, 419180, 2822, 2857, 118734, 1956],
  [68169, 108.4, 442769, 2936, 2798, 120445, 1957],
  [66513, 110.8, 444546, 4681, 2637, 121950, 1958],
  [68655, 112.6, 482704, 3813, 2552, 123366, 1959],
  [69564, 114.2, 502601, 3931, 2514, 125368, 1960],
  [69331, 115.7, 518173, 4806, 2572, 127852, 1961],
  [70551, 116.9, 554894, 4007, 2827, 130081, 1962],
] as const;

/** Significant digits that two numbers share. */
function digits(found: number, certified: number): number {
  return -Math.log10(Math.max(1e-16, Math.abs(found - certified) / Math.abs(certified)));
}

function residualDeviation(solved: { readonly residuals: readonly number[]; readonly freedom: number }): number {
  return Math.sqrt(solved.residuals.reduce((sum, each) => sum + each ** 2, 0) / solved.freedom);
}

function deviations(solved: NonNullable<ReturnType<typeof linearLeastSquares>>): number[] {
  const s = residualDeviation(solved);
  return solved.inverse.map((row, index) => s * Math.sqrt(row[index] as number));
}

describe('linear', () => {
  test('Longley: coefficients, their deviations and the residual deviation to nine digits', () => {
    const solved = linearLeastSquares(
      LONGLEY.map(([, ...x]) => [1, ...x]),
      LONGLEY.map(([y]) => y),
    );
    const certified = [
      [-3482258.63459582, 890420.383607373],
      [15.0618722713733, 84.9149257747669],
      [-0.35819179292591e-1, 0.334910077722432e-1],
      [-2.02022980381683, 0.488399681651699],
      [-1.03322686717359, 0.214274163161675],
      [-0.511041056535807e-1, 0.22607320006937],
      [1829.15146461355, 455.478499142212],
    ] as const;
    if (solved === null) throw new Error('solved');
    certified.forEach(([value, deviation], index) => {
      expect(digits(solved.parameters[index] as number, value)).toBeGreaterThan(9);
      expect(digits(deviations(solved)[index] as number, deviation)).toBeGreaterThan(9);
    });
    expect(digits(residualDeviation(solved), 304.854073561965)).toBeGreaterThan(9);
    expect(solved.freedom).toBe(9);
  });

  test('NoInt1: a line through the origin, to thirteen digits', () => {
    const x = Array.from({ length: 11 }, (_, index) => 60 + index);
    const solved = linearLeastSquares(
      x.map((each) => [each]),
      x.map((each) => each + 70),
    );
    if (solved === null) throw new Error('solved');
    expect(digits(solved.parameters[0] as number, 2.07438016528926)).toBeGreaterThan(13);
    expect(digits(deviations(solved)[0] as number, 0.165289256198347e-1)).toBeGreaterThan(12);
    expect(digits(residualDeviation(solved), 3.56753034006338)).toBeGreaterThan(12);
  });

  test('columns that determine nothing are refused', () => {
    const rows = [1, 2, 3, 4].map((x) => [1, x, 2 * x]);
    expect(linearLeastSquares(rows, [1, 2, 3, 4])).toBeNull();
    expect(linearLeastSquares([[1, 2]], [3])).toBeNull();
    expect(
      linearLeastSquares(
        rows.map(([one]) => [one as number, 0]),
        [1, 2, 3, 4],
      ),
    ).toBeNull();
  });
});

describe('nonlinear', () => {
  const x = [77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760];
  const y = [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78];
  const fitted = ([b1 = 0, b2 = 0]: readonly number[]) => ({
    values: x.map((each) => b1 * (1 - Math.exp(-b2 * each))),
    rows: x.map((each) => [1 - Math.exp(-b2 * each), b1 * each * Math.exp(-b2 * each)]),
  });

  test.each([
    [500, 0.0001],
    [250, 0.0005],
  ])('Misra1a from %d, %d: to eight digits', (...start) => {
    const solved = nonlinearLeastSquares(fitted, { observed: y, start });
    if (solved === null) throw new Error('settled');
    expect(digits(solved.parameters[0] as number, 238.94212918)).toBeGreaterThan(8);
    expect(digits(solved.parameters[1] as number, 5.5015643181e-4)).toBeGreaterThan(8);
    const [first = 0, second = 0] = deviations(solved);
    expect(digits(first, 2.7070075241)).toBeGreaterThan(6);
    expect(digits(second, 7.2668688436e-6)).toBeGreaterThan(6);
    expect(digits(residualDeviation(solved), 0.1018787633)).toBeGreaterThan(8);
  });
});
