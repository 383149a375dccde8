/**
 * Goal: liquid that vessels take up while their levels move stands in the balances of every arrangement. The flows that
 * were put in by hand, with properties of the independent code, must come out.
 */
import { describe, expect, test } from 'vitest';
import { chillerParameters } from '../../../agent/cycle/parameters.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import {
  AREA,
  at,
  byHand,
  CASES,
  type Case,
  COLD,
  figure,
  good,
  parametersOf,
  points,
  RANGE,
  solved,
  TANK,
  type Valves,
  WARM,
  WATER,
  without,
} from './levels-by-hand.ts';

/** kg/s: condenser and tanks fill, empty, and one gives what the other takes. */
const MINUTES: readonly Valves[] = [
  { drained: 32, to_second: 28.5, feed: 27 },
  { drained: 34.6, to_second: 31, feed: 30.5 },
  { drained: 33, to_second: 30.5, feed: 29.4 },
];
const BOILED = 30;

describe('50 mm a minute on one square metre are about one kilogram a second', () => {
  test('24 degC: 1 kg/s by the specific volume that Cengel prints (Table A-11: 0.000 826 1 m3/kg, from memory)', () => {
    const hand = 0.05 / 60 / 0.0008261;
    expect(hand).toBeCloseTo(1.009, 3);
    const one = { liquid_area: '1 m2', level_range: '1 m' };
    const parameters = chillerParameters.parse({
      refrigerant: 'R134a',
      arrangement: 'parallel',
      rated_capacity: '1500 ton',
      vessels: { flash_tank: one },
    });
    const found = solved(parameters, {
      'flash_tank.temperature': good(297.15),
      'flash_tank.level': { ...good(0.5), rate: { value: 0.05 / 60, u: 1e-5 } },
    });
    expect(figure(found, 'flash_tank.storage_mass_flow') / hand).toBeCloseTo(1, 3);
    // 10 % of the area and 1.2 % of the rate, expanded
    expect(found.metrics['flash_tank.storage_mass_flow']?.uncertainty).toBeCloseTo(
      2 * hand * Math.hypot(0.1, 0.012),
      3,
    );
  });
});

describe.each(CASES)('$name', (of) => {
  test.each(MINUTES)('the flows that were put in come out: %o', (valves) => {
    const hand = byHand(of, valves, BOILED);
    const found = solved(parametersOf(of, true), without(points(of, hand), 'condenser_water.flow', 'unit.power'));
    // nothing was lost in the sums of this test
    const all = (masses: Readonly<Record<string, number>>): number => Object.values(masses).reduce((a, b) => a + b, 0);
    expect(all(hand.total)).toBeCloseTo(all(hand.start), 6);
    for (const name of of.vessels) expect(figure(found, `${name}.storage_mass_flow`)).toBeCloseTo(hand.gained(name), 4);
    expect(figure(found, 'evaporator.mass_flow')).toBeCloseTo(BOILED, 4);
    expect(figure(found, 'condenser.mass_flow')).toBeCloseTo(valves.drained, 4);
    if (of.vessels.length > 1) {
      expect(figure(found, 'flash_tank.vapour_mass_flow')).toBeCloseTo(hand.vapour, 4);
      expect(found.states['6']?.m).toBeCloseTo(valves.feed, 4);
    }
    if (of.vessels.length > 2) {
      expect(figure(found, 'flash_tank_2.vapour_mass_flow')).toBeCloseTo(hand.vapour_2, 4);
      expect(found.states['11']?.m).toBeCloseTo(valves.to_second, 4);
    }
  });

  test.each(MINUTES)('condenser water and power tell the capacity of chilled water: %o', (valves) => {
    const hand = byHand(of, valves, BOILED);
    const found = solved(parametersOf(of, true), points(of, hand));
    expect(figure(found, 'unit.capacity_from_condenser_water')).toBeCloseTo(hand.capacity / 1000, 1);
    expect(figure(found, 'unit.heat_balance_error')).toBeCloseTo(0, 6);
  });

  test('readings of a minute in which levels move contradict nothing, and do where that is left out', () => {
    const hand = byHand(of, { drained: 27, to_second: 22.5, feed: 21 }, BOILED);
    const all = points(of, hand);
    const found = solved(parametersOf(of, true), all);
    expect(found.reconciliation.problem).toBeNull();
    expect(found.reconciliation.chi_square?.value).toBeLessThan(1e-3);
    expect(figure(found, 'condenser.mass_flow')).toBeCloseTo(27, 2);
    const ignorant = solved(parametersOf(of, false), all);
    expect(ignorant.reconciliation.chi_square?.value).toBeGreaterThan(10);
    expect(Math.abs(figure(ignorant, 'condenser.mass_flow') - 27)).toBeGreaterThan(2);
  });
});

test('with the economizer off what neither vessel keeps goes on to the evaporator as it is', () => {
  const of = CASES[1] as Case;
  const [drained, feed] = [28, 29.5];
  const [kept, h3] = [BOILED - drained, at(WARM, 'h_liquid')];
  const gives = -(kept + drained - feed);
  const capacity = BOILED * at(COLD, 'h_vapour') + gives * at(COLD, 'h_liquid') - feed * h3;
  const rate = (mass: number, rho: number) => ({ ...good(0.5), rate: { value: mass / rho / AREA / RANGE, u: 1e-6 } });
  const found = solved(parametersOf(of, true), {
    ...without(points(of, byHand(of, MINUTES[0] as Valves, BOILED)), 'condenser_water.flow', 'unit.power'),
    'economizer_compressor.running': good(0),
    'chilled_water.flow': good(capacity / (WATER.density * WATER.heat_capacity * 5)),
    'condenser.level': rate(kept, at(WARM, 'rho_liquid')),
    'flash_tank.level': rate(drained - feed, at(TANK, 'rho_liquid')),
  });
  expect(figure(found, 'evaporator.mass_flow')).toBeCloseTo(BOILED, 4);
  expect(figure(found, 'condenser.mass_flow')).toBeCloseTo(drained, 4);
  expect(found.states['6']?.m).toBeCloseTo(feed, 4);
});

test('subcooler: what the condenser keeps neither boils in the branch nor feeds the evaporator', () => {
  const kept = -1.4;
  const found = solved(parametersOf({ ...(CASES[0] as Case), machine: { arrangement: 'subcooler' } }, true), {
    ...without(
      points(CASES[0] as Case, byHand(CASES[0] as Case, MINUTES[0] as Valves, BOILED)),
      'unit.power',
      'condenser_water.flow',
    ),
    'economizer.running': good(1),
    'economizer.pressure': good(at(TANK, 'p')),
    'economizer.liquid_temperature': good(at(TANK, 'T') + 3),
    'economizer.vapour_temperature': good(at(TANK, 'T')),
    'condenser.level': { ...good(0.5), rate: { value: kept / at(WARM, 'rho_liquid') / AREA / RANGE, u: 1e-6 } },
  });
  const [boiled, drained, feed] = [
    figure(found, 'evaporator.mass_flow'),
    figure(found, 'condenser.mass_flow'),
    found.states['6']?.m ?? Number.NaN,
  ];
  const vapour = figure(found, 'economizer.vapour_mass_flow');
  expect(drained).toBeCloseTo(boiled + vapour - kept, 3);
  expect(feed).toBeCloseTo(boiled - kept, 3);
  const cooled = at(WARM, 'h_liquid') - (found.states['5']?.h ?? Number.NaN);
  expect(vapour * (at(TANK, 'h_vapour') - at(WARM, 'h_liquid'))).toBeCloseTo(feed * cooled, -2);
});

describe('not claimed', () => {
  const of = CASES[1] as Case;
  const hand = byHand(of, MINUTES[0] as Valves, BOILED);
  const all = points(of, hand);
  const level = (more: Partial<PointValue>) => {
    const { rate: _rate, ...still } = { ...(all['condenser.level'] as PointValue), ...more };
    return { ...all, 'condenser.level': still };
  };
  const steady = solved(parametersOf(of, false), all);

  test.each([
    ['too few readings of condenser.level for its rate', level({})],
    ['condenser.level is bad: stale', level({ value: null, u: null, quality: 'bad', reason: 'stale' })],
    ['condenser.level_rate is not measured', without(all, 'condenser.level')],
  ])('%s: missing as a figure, zero in the balances', (reason, given) => {
    const found = solved(parametersOf(of, true), without(given, 'flash_tank.level'));
    const stored = found.metrics['condenser.storage_mass_flow'];
    expect(stored).toMatchObject({ value: null, quality: 'bad' });
    expect(stored?.reason).toBe(reason.replace('level_rate', 'level'));
    expect(figure(found, 'condenser.mass_flow')).toBeCloseTo(figure(steady, 'condenser.mass_flow'), 6);
  });

  test('without its area nothing is said, and nothing of it changes a figure', () => {
    expect(steady.metrics['condenser.storage_mass_flow']?.reason).toBe('vessels.condenser is not configured');
    const blind = solved(parametersOf(of, false), without(all, 'condenser.level', 'flash_tank.level'));
    expect(steady.metrics['condenser.mass_flow']).toEqual(blind.metrics['condenser.mass_flow']);
  });

  test('a level that moves too fast makes the flows uncertain', () => {
    const fast = {
      ...without(all, 'unit.power'),
      'condenser.level': { ...good(0.5), rate: { value: 0.005, u: 1e-5 } },
    };
    const found = solved(parametersOf(of, true), fast).metrics['condenser.mass_flow'];
    expect(found?.quality).toBe('uncertain');
    expect(found?.reason).toContain('condenser.level moves too fast');
  });
});
