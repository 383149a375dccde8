/**
 * Polytropic efficiency against a plain fine integration, and against Schultz 1962 (the method of ASME PTC 10), both
 * written out here.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { polytropicEfficiency, polytropicEnd, throughStages } from '../../../agent/cycle/polytropic.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import type { Refrigerant, State } from '../../../agent/refrigerant/types.ts';

const FLUIDS = ['R134a', 'R1233zdE', 'R123', 'R1234zeE', 'R22', 'R11'];

/** Discharge state of a compressor whose every small step has this efficiency: steps of equal pressure ratio. */
function compress(fluid: Refrigerant, from: State, p: number, efficiency: number, steps: number): State {
  let state = from;
  for (let step = 1; step <= steps; step++) {
    const next = from.p * (p / from.p) ** (step / steps);
    const ideal = must(fluid.PS(next, state.s));
    state = must(fluid.PH(next, state.h + (ideal.h - state.h) / efficiency));
  }
  return state;
}

/** n = ln(p2/p1)/ln(v1/v2), H_p = f n/(n - 1) (p2 v2 - p1 v1), f from the isentropic path. */
function schultz(fluid: Refrigerant, from: State, to: State): number {
  const head = (end: State) => {
    const n = Math.log(end.p / from.p) / Math.log(end.rho / from.rho);
    return (n / (n - 1)) * (end.p / end.rho - from.p / from.rho);
  };
  const ideal = must(fluid.PS(to.p, from.s));
  return (head(to) * ((ideal.h - from.h) / head(ideal))) / (to.h - from.h);
}

describe.each(FLUIDS)('%s from 5 degC', (name) => {
  const fluid = must(refrigerant(name));
  const from = must(fluid.TQ(278.15, 1));

  test.each([
    [30, 0.85],
    [37, 0.8],
    [50, 0.75],
  ])('to %d degC with %d', (condenser, efficiency) => {
    const p = must(fluid.saturationPressure(condenser + 273.15));
    const to = compress(fluid, from, p, efficiency, 600);
    expect(to.phase).toBe('vapour');
    // the stepping itself is of first order: 600 steps leave 2e-4 of the efficiency at most
    expect(Math.abs(must(polytropicEfficiency(fluid, from, to)) - efficiency)).toBeLessThan(2e-4);
    // twice the steps, half the distance: they meet
    const finer = compress(fluid, from, p, efficiency, 1200);
    const apart = Math.abs(must(polytropicEfficiency(fluid, from, finer)) - efficiency);
    expect(apart).toBeLessThan(0.6 * Math.abs(must(polytropicEfficiency(fluid, from, to)) - efficiency) + 1e-7);
    // Schultz's factor is itself an approximation for dense gas: 0.0015 at the usual lift, more at 45 K
    expect(Math.abs(schultz(fluid, from, to) - efficiency)).toBeLessThan(condenser > 40 ? 0.0025 : 0.0015);
  });
});

describe.each(FLUIDS)('%s in two stages, 5 to 20 to 37 degC, tank vapour mixed in', (name) => {
  const fluid = must(refrigerant(name));
  const from = must(fluid.TQ(278.15, 1));
  const vapour = must(fluid.TQ(293.15, 1));
  const out = must(fluid.saturationPressure(310.15));
  const share = 0.12;
  /** By plain steps: leaving the first stage, mixed, and leaving the second, at this efficiency of every step. */
  const stepped = (efficiency: number, steps: number) => {
    const first = compress(fluid, from, vapour.p, efficiency, steps);
    const mixed = must(fluid.PH(vapour.p, (1 - share) * first.h + share * vapour.h));
    return { first, mixed, end: compress(fluid, mixed, out, efficiency, steps) };
  };

  test.each([0.85, 0.75, 0.6])('efficiency %d comes back with the states between', (efficiency) => {
    const { first, mixed, end } = stepped(efficiency, 600);
    const found = must(throughStages(fluid, from, end, [{ p: vapour.p, share, h: vapour.h }]));
    const [left, entered] = [found.leaving[0]!, found.entering[1]!];
    expect(Math.abs(found.efficiency - efficiency)).toBeLessThan(2e-4);
    expect(Math.abs(left - first.h)).toBeLessThan(5e-4 * (first.h - from.h));
    expect(Math.abs(entered - mixed.h)).toBeLessThan(5e-4 * (first.h - from.h));
    // forward to the same ends
    const ahead = must(polytropicEnd(fluid, from, vapour.p, found.efficiency));
    expect(ahead.h).toBeCloseTo(left, 3);
    const again = must(polytropicEnd(fluid, must(fluid.PH(vapour.p, entered)), out, found.efficiency));
    expect(again.h).toBeCloseTo(end.h, 3);
  });

  test('mixing left out is another efficiency: the tank vapour cools what the second stage draws', () => {
    const { end } = stepped(0.8, 600);
    const dry = must(throughStages(fluid, from, end, [{ p: vapour.p, share: 0, h: vapour.h }]));
    expect(dry.efficiency).toBeCloseTo(must(polytropicEfficiency(fluid, from, end)), 6);
    expect(dry.efficiency).toBeGreaterThan(0.803);
  });
});

test('two stages of no rise, or with the tank outside, are refused', () => {
  const fluid = must(refrigerant('R134a'));
  const from = must(fluid.TQ(278.15, 1));
  const end = must(fluid.TP(330, 9e5));
  const side = { p: 5e5, share: 0.1, h: from.h };
  for (const [to, at] of [
    [end, { ...side, p: 2e5 }],
    [end, { ...side, p: 1e6 }],
    [from, side],
    [end, { ...side, h: end.h * 20 }],
  ] as const)
    expect(throughStages(fluid, from, to, [at]).ok).toBe(false);
  expect(throughStages(fluid, from, end, [side]).ok).toBe(true);
  for (const efficiency of [0, -1, Number.NaN]) expect(polytropicEnd(fluid, from, 9e5, efficiency).ok).toBe(false);
});

test('an isentropic compression has polytropic efficiency 1', () => {
  const fluid = must(refrigerant('R134a'));
  const from = must(fluid.TQ(278.15, 1));
  const to = must(fluid.PS(9e5, from.s));
  expect(must(polytropicEfficiency(fluid, from, to))).toBeCloseTo(1, 6);
});

test('ideal gas: (n - 1)/n = (k - 1)/(k eta), from the textbook relation, met by thin gas', () => {
  const fluid = must(refrigerant('R134a'));
  const from = must(fluid.TP(400, 1e3));
  const to = compress(fluid, from, 2e3, 0.8, 400);
  const ratio = (state: State) => (state.cp as number) / (state.cv as number);
  const k = (ratio(from) + ratio(to)) / 2;
  const n = Math.log(to.p / from.p) / Math.log(to.rho / from.rho);
  const eta = (((k - 1) / k) * n) / (n - 1);
  expect(Math.abs(eta - must(polytropicEfficiency(fluid, from, to)))).toBeLessThan(0.002);
});
