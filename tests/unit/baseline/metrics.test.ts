/**
 * Goal: what a minute says against the baseline is the arithmetic of its formulas, with the doubts of what it is made
 * from, and missing with its reason where it cannot be. Method: fits of an independent machine (helpers.ts); clean heat
 * exchangers by lines written down here; the saturation pressure from a handbook table.
 */
import { describe, expect, test } from 'vitest';
import type { Figure } from '../../../agent/base/metric.ts';
import { fitLine, onLine, type Sample } from '../../../agent/baseline/exchangers.ts';
import { fitCleanMachine } from '../../../agent/baseline/fit.ts';
import { BASELINE_METRICS, baselineFigures, type Clean } from '../../../agent/baseline/metrics.ts';
import { chance, hoursOf, truePower } from './helpers.ts';

const { machine } = fitCleanMachine(hoursOf({ from: Date.UTC(2025, 4, 1), count: 1400, seed: 21, scatter: 0.01 }));
const CLEAN: Clean = {
  machine,
  reason: null,
  level: 1,
  level_deviation: 0,
  evaporator_ua: null,
  condenser_ua: null,
  subcooling: null,
};
const ASKED = { capacity: 3500, chilled: 280, condenser: 297 };
const TON = (12_000 * 1055.05585262) / 3600 / 1000;

function good(value: number | null, uncertainty: number | null = null): Figure {
  return { value, uncertainty, quality: value === null ? 'bad' : 'good', reason: value === null ? 'not read' : null };
}

function figures(more: Readonly<Record<string, Figure>> = {}): Record<string, Figure> {
  return {
    'unit.capacity': good(ASKED.capacity),
    'unit.power': good(1.05 * truePower(ASKED)),
    'chilled_water.leaving_temperature': good(ASKED.chilled - 273.15),
    'condenser_water.entering_temperature': good(ASKED.condenser - 273.15),
    ...more,
  };
}

/** Saturation pressure of R-134a, kPa, at 30 to 45 degC (ASHRAE Handbook, Fundamentals; from memory): between. */
const TABLE = [
  [30, 770.2],
  [35, 887.0],
  [40, 1016.6],
  [45, 1159.9],
] as const;

function saturationPressure(temperature: number): number | null {
  for (const [index, [to, high]] of TABLE.entries()) {
    const [from, low] = TABLE[index - 1] ?? [to, high];
    if (temperature >= from && temperature <= to && to > from)
      return Math.exp(Math.log(low) + ((temperature - from) / (to - from)) * Math.log(high / low));
  }
  return null;
}

const told = (clean: Clean, given = figures()): Record<string, Figure> =>
  baselineFigures({ clean, figures: given, saturationPressure });

describe('power', () => {
  test('five per cent more than the machine was made with', () => {
    const found = told(CLEAN);
    const expected = found['unit.power_expected'];
    expect(Math.abs((expected?.value ?? 0) / truePower(ASKED) - 1)).toBeLessThan(0.005);
    // One hour of a machine that scatters by one per cent: two of them, k = 2.
    expect((expected?.uncertainty ?? 0) / (expected?.value ?? 1)).toBeCloseTo(0.02, 2);
    expect(found['unit.kw_per_ton_expected']?.value).toBeCloseTo(((expected?.value ?? 0) / 3500) * TON, 9);
    expect(found['unit.kw_per_ton_deviation']?.value).toBeCloseTo(
      (1.05 * truePower(ASKED)) / (expected?.value ?? 1) - 1,
      9,
    );
    expect(found['unit.kw_per_ton_deviation']?.value).toBeCloseTo(0.05, 2);
  });

  test('at the level that work has left', () => {
    const found = told({ ...CLEAN, level: 1.04, level_deviation: 0.01 });
    const plain = told(CLEAN);
    expect(found['unit.power_expected']?.value).toBeCloseTo(1.04 * (plain['unit.power_expected']?.value ?? 0), 9);
    expect(found['unit.power_expected']?.uncertainty).toBeGreaterThan(plain['unit.power_expected']?.uncertainty ?? 1e9);
  });

  test('doubts go with it; a missing reading, a foreign load and a missing fit are missing with the reason', () => {
    const doubt = { ...good(3500), quality: 'uncertain', reason: 'not steady: load change' } as const;
    const moving = told(CLEAN, figures({ 'unit.capacity': doubt }));
    expect(moving['unit.kw_per_ton_deviation']).toMatchObject({
      quality: 'uncertain',
      reason: 'not steady: load change',
    });
    const lost = told(CLEAN, figures({ 'unit.capacity': good(null) }));
    expect(lost['unit.power_expected']).toEqual({ value: null, uncertainty: null, quality: 'bad', reason: 'not read' });
    const foreign = told(CLEAN, figures({ 'unit.capacity': good(300) }));
    expect(foreign['unit.power_expected']?.reason).toBe('load or water temperatures lie beyond the fitted ones');
    const none = told({ ...CLEAN, machine: null, reason: 'no baseline for economizer off' });
    expect(none['unit.kw_per_ton_deviation']?.reason).toBe('no baseline for economizer off');
    for (const { name } of BASELINE_METRICS) expect(none).toHaveProperty([name]);
  });
});

describe('heat exchangers', () => {
  const dice = chance(5);
  const samples: Sample[] = Array.from({ length: 200 }, () => {
    const [duty, flow] = [2000 + 2500 * dice.uniform(), 0.2 + 0.05 * dice.uniform()];
    return { value: (400 + 0.05 * duty + 1200 * flow) * (1 + 0.02 * dice.normal()), asked: [duty, flow] };
  });
  const line = fitLine(samples);

  test('the clean conductance at like duty and flow, and how far it fell', () => {
    if (line === null) throw new Error('a line');
    const clean = { ...CLEAN, evaporator_ua: line };
    const truth = 400 + 0.05 * 3500 + 1200 * 0.22;
    const found = told(clean, figures({ 'evaporator.ua': good(0.8 * truth), 'chilled_water.flow': good(0.22) }));
    expect(found['evaporator.ua_ratio']?.value).toBeCloseTo(0.8, 2);
    expect(found['evaporator.ua_ratio']?.uncertainty).toBeCloseTo(0.8 * 0.04, 2);
    const fast = told(clean, figures({ 'evaporator.ua': good(truth), 'chilled_water.flow': good(0.4) }));
    expect(fast['evaporator.ua_ratio']?.reason).toBe('duty or flow lies beyond that of the declared period');
    expect(found['condenser.ua_ratio']?.value).toBeNull();
  });

  test('too few hours, too much scatter and a flow that never varies give none', () => {
    expect(fitLine(samples.slice(0, 20))).toBeNull();
    expect(
      fitLine(samples.map(({ value, asked }) => ({ asked, value: value * (1 + 0.3 * dice.normal()) }))),
    ).toBeNull();
    expect(fitLine(samples.map(({ value, asked: [duty = 0] }) => ({ value, asked: [duty, 0.2] })))).toBeNull();
    expect(line === null ? null : onLine(line, [9000, 0.2])).toBeNull();
  });

  test('air shows as pressure above that of the liquid with its clean subcooling', () => {
    const subcooling = fitLine(
      samples.map(({ asked: [duty = 0] }) => ({ value: 3 + duty / 2000 + 0.02 * dice.normal(), asked: [duty] })),
    );
    // At 3500 kW the clean machine subcools by 4.75 K: liquid at 35.25 degC belongs to 40 degC, 1016.6 kPa.
    const given = figures({
      'condenser.pressure': good(1040),
      'condenser.liquid_temperature': good(35.25),
    });
    const found = told({ ...CLEAN, subcooling }, given)['condenser.excess_pressure'];
    expect(Math.abs((found?.value ?? 0) - (1040 - 1016.6))).toBeLessThan(1.5);
    expect(found?.uncertainty).toBeGreaterThan(0.5);
    expect(told(CLEAN, given)['condenser.excess_pressure']?.reason).toBe('the declared period gives no clean value');
  });
});
