/**
 * Calls per second and core of each way to a state, and what each costs in evaluations of the equation, measured in
 * the same run.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { Equation } from '../../../agent/refrigerant/equation.ts';
import { PureRefrigerant } from '../../../agent/refrigerant/pure_refrigerant.ts';
import { REFRIGERANTS, refrigerant, refrigerantData } from '../../../agent/refrigerant/refrigerants.ts';

const ROUND = 2000;
const ROUNDS = 40;

/** Best of many short rounds, so that other work on the machine disturbs little; microseconds per call. */
function microseconds(call: (i: number) => number): number {
  let best = Number.POSITIVE_INFINITY;
  let sum = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const start = performance.now();
    for (let i = 0; i < ROUND; i++) sum += call(i);
    best = Math.min(best, (performance.now() - start) / ROUND);
  }
  expect(Number.isFinite(sum)).toBe(true);
  return best * 1000;
}

describe.each(REFRIGERANTS)('%s', (name) => {
  test('calls per second', () => {
    const data = must(refrigerantData(name));
    const fluid = must(refrigerant(name));
    const equation = new Equation(data);
    const { saturation } = fluid.range;
    const T = (i: number) => 260 + (i * 80) / ROUND;
    // The medium-pressure refrigerants saturate above 60 kPa at the range's lower end; the liquid is 5 K colder.
    const p_low = Math.max(6e4, 1.5 * saturation.p_min);
    const p = (i: number) => Math.min(saturation.p_max, p_low + (i * 1e6) / ROUND);
    const vapour = Array.from({ length: ROUND }, (_, i) =>
      must(fluid.TP(must(fluid.saturationTemperature(p(i))) + 10, p(i))),
    );
    const liquid = Array.from({ length: ROUND }, (_, i) =>
      must(fluid.TP(must(fluid.saturationTemperature(p(i))) - 5, p(i))),
    );
    const wet = Array.from({ length: ROUND }, (_, i) => must(fluid.PQ(p(i), (i + 0.5) / ROUND)));
    const evaluate = (i: number): number => {
      equation.at(vapour[i]!.T, vapour[i]!.rho);
      return equation.h;
    };
    const rows: [string, (i: number) => number][] = [
      ['one evaluation of the equation', evaluate],
      ['saturation pressure of T', (i) => must(fluid.saturationPressure(T(i)))],
      ['saturation temperature of p', (i) => must(fluid.saturationTemperature(p(i)))],
      ['PQ', (i) => must(fluid.PQ(p(i), 1)).h],
      ['TQ', (i) => must(fluid.TQ(T(i), 0)).h],
      ['TP vapour', (i) => must(fluid.TP(vapour[i]!.T, vapour[i]!.p)).h],
      ['TP liquid', (i) => must(fluid.TP(liquid[i]!.T, liquid[i]!.p)).h],
      ['PH vapour', (i) => must(fluid.PH(vapour[i]!.p, vapour[i]!.h)).T],
      ['PH liquid', (i) => must(fluid.PH(liquid[i]!.p, liquid[i]!.h)).T],
      ['PH two-phase', (i) => must(fluid.PH(wet[i]!.p, wet[i]!.h)).T],
      ['PS vapour', (i) => must(fluid.PS(vapour[i]!.p, vapour[i]!.s)).T],
      ['PS two-phase', (i) => must(fluid.PS(wet[i]!.p, wet[i]!.s)).T],
    ];
    for (const [, call] of rows) microseconds(call);
    const measured = rows.map(([label, call]) => [label, microseconds(call)] as const);
    const one = measured[0]![1];
    const start = performance.now();
    for (let i = 0; i < 20; i++) new PureRefrigerant(data);
    const building = ((performance.now() - start) / 20) * 1000;
    const lines = [...measured, ['building the refrigerant', building] as const].map(
      ([label, time]) =>
        `  ${label.padEnd(32)} ${time.toFixed(2).padStart(9)} us ${Math.round(1e6 / time)
          .toString()
          .padStart(9)} /s ${(time / one).toFixed(1).padStart(8)} evaluations`,
    );
    console.log(`${name}\n${lines.join('\n')}`);
  });
});
