/** The adjustment and its tests against printed figures. */
import { describe, expect, test } from 'vitest';
import { chiSquareTail, normalLimit, sidakLimit } from '../../../agent/base/chi-square.ts';
import { Adjustment, Causes, dot, propagated } from '../../../agent/cycle/reconciliation/adjust.ts';
import { judge } from '../../../agent/cycle/reconciliation/suspects.ts';

/**
 * Narasimhan & Jordache, Data Reconciliation and Gross Error Detection (2000), chapter 1: a heat exchanger with bypass,
 * six flows of unit variance round four junctions. Figures from memory, recomputed by an independent code.
 */
describe('flow network of Narasimhan and Jordache, chapter 1', () => {
  const measured = [101.91, 64.45, 34.65, 64.2, 36.44, 98.88];
  const junctions = [
    [1, -1, -1, 0, 0, 0],
    [0, 1, 0, -1, 0, 0],
    [0, 0, 1, 0, -1, 0],
    [0, 0, 0, 1, 1, -1],
  ];
  const causes = (which: readonly number[]) =>
    new Causes(which.map((_, at) => ({ moves: new Map([[at, 1]]), random: 0 })));
  const all = [0, 1, 2, 3, 4, 5];

  function adjusted(which: readonly number[]): Adjustment {
    const column = (flow: number) => Array.from(junctions, (row) => row[flow] as number);
    const unmeasured = all.filter((flow) => !which.includes(flow));
    const residual = Array.from(junctions, (row) =>
      which.reduce((sum, flow) => sum + (row[flow] as number) * (measured[flow] as number), 0),
    );
    return new Adjustment({ residual, measured: which.map(column), unmeasured: unmeasured.map(column) }, causes(which));
  }

  test('reconciled flows and global test, to the printed digits', () => {
    const found = adjusted(all);
    const flows = measured.map((value, at) => (value + (found.correction[at] as number)).toFixed(2));
    expect(flows).toEqual(['100.22', '64.50', '35.72', '64.50', '35.72', '100.22']);
    expect(found.dof).toBe(4);
    expect(found.chiSquare.toFixed(2)).toBe('6.41');
  });

  test('unmeasured flows are eliminated and follow from the rest', () => {
    // 1, 2 and 3 measured, 4 to 6 not: one balance left, the imbalance of 2.81 shared in three
    const found = adjusted([0, 1, 2]);
    expect(found.dof).toBe(1);
    const imbalance = 101.91 - 64.45 - 34.65;
    expect(found.chiSquare).toBeCloseTo(imbalance ** 2 / 3, 12);
    expect([...found.correction]).toEqual([-imbalance / 3, imbalance / 3, imbalance / 3].map((c) => expect.closeTo(c)));
    expect(found.step[0]).toBeCloseTo(64.45 + imbalance / 3, 10);
    expect(found.step[2]).toBeCloseTo(101.91 - imbalance / 3, 10);
    // 1 alone determines 6 and nothing checks it
    expect(adjusted([0]).dof).toBe(0);
  });

  test('variance of a reconciled flow: those of three meters in one line', () => {
    // 2 = 4 and 1 = 6 tell the same twice: by hand, flow 2 from (I - A'(AA')^-1 A)
    const found = adjusted(all);
    const own = Array.from(all, (at) => (at === 1 ? 1 : 0));
    const kept = propagated(own, causes(all), found);
    expect(dot(kept, kept)).toBeCloseTo(1 / 3, 12);
    const first = propagated(
      Array.from(all, (at) => (at === 0 ? 1 : 0)),
      causes(all),
      found,
    );
    expect(dot(first, first)).toBeCloseTo(1 / 3, 12);
    // x1 = x2 + x3 exactly: var(x1) = var(x2) + var(x3) + 2 cov(x2, x3)
    const third = propagated(
      Array.from(all, (at) => (at === 2 ? 1 : 0)),
      causes(all),
      found,
    );
    expect(dot(first, first)).toBeCloseTo(dot(kept, kept) + dot(third, third) + 2 * dot(kept, third), 12);
  });

  test('one imbalance makes all corrections equal: nobody is named, the group is', () => {
    const found = adjusted([0, 1, 2]);
    const candidates = ['1', '2', '3'].map((name, at) => ({ name, error: new Map([[at, 1]]) }));
    const verdict = judge(found, candidates);
    const [a, b, c] = Object.values(verdict?.corrections ?? {});
    expect(Math.abs(a as number)).toBeCloseTo(Math.abs(b as number), 12);
    expect(Math.abs(a as number)).toBeCloseTo(Math.abs(c as number), 12);
    expect(verdict?.groups).toEqual([['1', '2', '3']]);
  });
});

/**
 * JCGM 100:2008, annex H.2: resistance, reactance and impedance of a circuit element from five simultaneous
 * readings of voltage, current and phase, whose means are correlated. Figures from memory, recomputed by an independent
 * code; for the reactance's uncertainty the readings give 0.2956, the annex prints 0.295.
 */
test('simultaneous resistance and reactance, JCGM 100 H.2, to the printed digits', () => {
  const readings = [
    [5.007, 4.994, 5.005, 4.99, 4.999],
    [19.663e-3, 19.639e-3, 19.64e-3, 19.685e-3, 19.678e-3],
    [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
  ];
  const means = readings.map((values) => values.reduce((sum, value) => sum + value, 0) / 5);
  const covariance = (a: number, b: number) =>
    [0, 1, 2, 3, 4].reduce((sum, k) => {
      const off = (of: number) => (readings[of]?.[k] as number) - (means[of] as number);
      return sum + (off(a) * off(b)) / 20;
    }, 0);
  // Cholesky: independent causes of the three correlated means
  const L = [0, 1, 2].map(() => [0, 0, 0]);
  for (let i = 0; i < 3; i++)
    for (let j = 0; j <= i; j++) {
      let sum = covariance(i, j);
      for (let k = 0; k < j; k++) sum -= (L[i]?.[k] as number) * (L[j]?.[k] as number);
      (L[i] as number[])[j] = i === j ? Math.sqrt(sum) : sum / (L[j]?.[j] as number);
    }
  const causes = new Causes(
    [0, 1, 2].map((c) => ({ moves: new Map([0, 1, 2].map((i) => [i, L[i]?.[c] as number])), random: 0 })),
  );
  const quantities: Record<string, (v: number, i: number, p: number) => number> = {
    R: (v, i, p) => (v / i) * Math.cos(p),
    X: (v, i, p) => (v / i) * Math.sin(p),
    Z: (v, i) => v / i,
  };
  const moves = (of: (v: number, i: number, p: number) => number) => {
    const [v, i, p] = means as [number, number, number];
    const by = [v, i, p].map((value, at) => {
      const step = 1e-6 * value;
      const moved = [v, i, p].map((each, k) => (k === at ? each + step : each)) as [number, number, number];
      const back = [v, i, p].map((each, k) => (k === at ? each - step : each)) as [number, number, number];
      return (of(...moved) - of(...back)) / (2 * step);
    });
    return propagated(by, causes, null);
  };
  const of = (name: string) => quantities[name] as (v: number, i: number, p: number) => number;
  const value = (name: string) => of(name)(...(means as [number, number, number]));
  const u = (name: string) => Math.sqrt(dot(moves(of(name)), moves(of(name))));
  const correlation = (a: string, b: string) => dot(moves(of(a)), moves(of(b))) / (u(a) * u(b));
  expect([value('R').toFixed(3), u('R').toFixed(3)]).toEqual(['127.732', '0.071']);
  expect(value('X').toFixed(3)).toBe('219.847');
  expect(Math.abs(u('X') - 0.295)).toBeLessThan(0.001);
  expect([value('Z').toFixed(3), u('Z').toFixed(3)]).toEqual(['254.260', '0.236']);
  expect(correlation('R', 'X').toFixed(3)).toBe('-0.588');
  expect(correlation('R', 'Z').toFixed(3)).toBe('-0.485');
  expect(correlation('X', 'Z').toFixed(3)).toBe('0.993');
});

/** Upper critical values of chi-square as tables of statistics print them (NIST/SEMATECH e-Handbook 1.3.6.7.4). */
describe('tables of statistics', () => {
  test.each([
    [1, 3.841, 0.05],
    [2, 5.991, 0.05],
    [3, 7.815, 0.05],
    [5, 11.07, 0.05],
    [10, 18.307, 0.05],
    [30, 43.773, 0.05],
    [100, 124.342, 0.05],
    [1, 6.635, 0.01],
    [4, 13.277, 0.01],
    [20, 37.566, 0.01],
    [1, 10.828, 0.001],
    [10, 29.588, 0.001],
    [1, 2.706, 0.1],
    [8, 13.362, 0.1],
    [10, 3.94, 0.95],
    [2, 0.103, 0.95],
  ])('chi-square with %d degrees of freedom exceeds %d with probability %d', (dof, value, p) => {
    // the last printed digit
    expect(chiSquareTail(value - 0.0006, dof)).toBeGreaterThan(p);
    expect(chiSquareTail(value + 0.0006, dof)).toBeLessThan(p);
  });

  test('two degrees of freedom are an exponential; the whole range', () => {
    for (const x of [0, 0.1, 1, 5, 50, 500]) expect(chiSquareTail(x, 2) / Math.exp(-x / 2)).toBeCloseTo(1, 11);
    expect(chiSquareTail(Number.POSITIVE_INFINITY, 3)).toBe(0);
    expect(chiSquareTail(0, 3)).toBe(1);
  });

  test('normal limits, and the Sidak limit of 2.93 for fifteen at 5 % (Mah & Tamhane 1982)', () => {
    expect(normalLimit(0.05)).toBeCloseTo(1.96, 3);
    expect(normalLimit(0.0027)).toBeCloseTo(3, 3);
    expect(sidakLimit(1, 0.05)).toBeCloseTo(1.96, 3);
    expect(sidakLimit(15, 0.05).toFixed(2)).toBe('2.93');
  });
});
