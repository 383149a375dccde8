/** Surge margin by a configured line, worked by hand, and the missed saving that it withholds. */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { good, machine, P_CONDENSER, P_EVAPORATOR, R134a, reason, SET_C, SET_CD, solved, value } from './given.ts';

/** Isentropic head and sound speed of the reference condition, by property calls alone. */
const suction = must(R134a.PQ(P_EVAPORATOR, 1));
const omega = (must(R134a.PS(P_CONDENSER, suction.s)).h - suction.h) / (suction.w as number) ** 2;
const plain = solved(SET_CD, machine());
const theta = value(plain, 'main_compressor.suction_volume_flow') / (suction.w as number);
const NAME = 'main_compressor.surge_margin';

/** A line through (omega, surge) rising from half of it at 0.8 omega to twice at 1.2 omega. */
const line = (surge: number) => [
  [0.8 * omega, 0.5 * surge],
  [omega, surge],
  [1.2 * omega, 2 * surge],
];
const at = (surge_line: unknown, more: Record<string, unknown> = {}, points = SET_CD) =>
  solved(points, machine({ surge_line, ...more }));

describe('margin', () => {
  test('1 - Theta_surge/Theta on the line at this head', () => {
    expect(value(at(line(0.75 * theta)), NAME)).toBeCloseTo(0.25, 6);
    expect(value(at(line(1.1 * theta)), NAME)).toBeCloseTo(-0.1, 6);
  });

  test('between two points of the line by the straight piece', () => {
    const around = [
      [0.9 * omega, 0.4 * theta],
      [1.3 * omega, 0.8 * theta],
    ];
    expect(value(at(around), NAME)).toBeCloseTo(1 - (0.4 + 0.4 * (0.1 / 0.4)), 6);
  });

  test('below the line its first point, above it nothing', () => {
    const scaled = (by: number) => line(0.75 * theta).map(([x, y]) => [(x as number) * by, y]);
    expect(value(at(scaled(1.5)), NAME)).toBeCloseTo(1 - 0.375, 6);
    expect(reason(at(scaled(0.5)), NAME)).toBe('head lies above the configured surge line');
  });

  test('none without a line, or where its flow is not known', () => {
    expect(reason(plain, NAME)).toBe('surge_line is not configured');
    const { 'unit.power': _, 'main_compressor.discharge_temperature': __, ...fewer } = SET_C;
    expect(reason(solved(fewer, machine({ surge_line: line(0.7) })), NAME)).toMatch(/^no balance gives the capacity/);
  });

  test('a line that does not rise is refused', () => {
    expect(() => machine({ surge_line: line(0.7).reverse() })).toThrow(/must rise in its first numbers/);
  });
});

describe('missed saving', () => {
  const off = { ...SET_CD, 'economizer_compressor.running': good(0) };
  const name = 'economizer.missed_saving_fraction';
  const present = value(solved(off, machine()), 'main_compressor.suction_volume_flow') / (suction.w as number);

  test('withheld where less flow would come too near to surge, though the present flow keeps clear', () => {
    // about a ninth less flow with the economizer: 0.15 now is 0.05 then
    const near = at(line(0.85 * present), {}, off);
    expect(value(near, NAME)).toBeCloseTo(0.15, 2);
    expect(reason(near, name)).toBe(
      'withheld: with the economizer on the main compressor would keep less than 0.1 from surge',
    );
    expect(near.metrics['economizer.missed_saving']?.value).toBeNull();
  });

  test('published with margin to spare, or where the site file asks for less', () => {
    const free = value(solved(off, machine()), name);
    expect(value(at(line(0.6 * present), {}, off), name)).toBe(free);
    expect(value(at(line(0.85 * present), { least_surge_margin: 0.02 }, off), name)).toBe(free);
  });
});
