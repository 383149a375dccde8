/**
 * Reconciled figures against a seeded Monte Carlo (JCGM 101) that draws every point and assumption and solves each draw
 * anew; 500 draws give a standard deviation within 3.2 % (k = 1). The long run is tests/proof/monte-carlo.ts.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { prepare, type Solver } from '../../../agent/cycle/solve.ts';
import { consistent, normal, only, SETS, snapshotOf } from '../../proof/consistent.ts';
import { compare } from '../../proof/monte-carlo.ts';
import { campaign, quietDays, theory } from '../../proof/suspects.ts';

const ALL = SETS['all'] as readonly string[];
const truth = consistent();
const solver: Solver = must(prepare(truth.parameters));
const solve = (names: readonly string[], suspects: readonly (readonly string[])[] = []) =>
  solver.solve(snapshotOf(only(truth.points, names)), suspects);

describe('spread and coverage, seed 20261127', () => {
  test.each(['C+D', 'all'])('%s', (name) => {
    const found = compare(SETS[name] as readonly string[], 500, 20261127);
    expect(found.length).toBeGreaterThan(40);
    for (const { metric, ratio, coverage } of found) {
      expect(Math.abs(ratio - 1), `${metric}: stated over spread ${ratio}`).toBeLessThan(0.13);
      expect(Math.abs(coverage - 0.95), `${metric}: coverage ${coverage}`).toBeLessThan(0.04);
    }
  });
});

describe('redundancy', () => {
  test('as many as the points beyond what determines the circuit', () => {
    const dof = (name: string) => solve(SETS[name] as readonly string[]).reconciliation.chi_square?.dof ?? 0;
    // by count of equations: power and discharge temperature, chilled water, condenser water each give the capacity
    expect(['A', 'B', 'C', 'D'].map(dof)).toEqual([0, 0, 0, 0]);
    expect(dof('C+D')).toBe(1);
    expect(dof('C+D+condenser flow')).toBe(2);
  });

  test('what agrees is not moved, and known better', () => {
    const found = solve(ALL);
    expect(found.reconciliation.chi_square?.value).toBeLessThan(1e-3);
    for (const [name, point] of Object.entries(found.reconciliation.points)) {
      expect(Math.abs(point.value - point.measured) / point.before, name).toBeLessThan(0.02);
      expect(point.after, name).toBeLessThanOrEqual(point.before * (1 + 1e-9));
    }
    const alone = solve(SETS['D'] as readonly string[]);
    const U = (of: typeof found, name: string) => of.metrics[name]?.uncertainty as number;
    for (const name of ['unit.capacity', 'unit.kw_per_ton', 'main_compressor.isentropic_efficiency'])
      expect(U(found, name) / U(alone, name), name).toBeLessThan(0.8);
    // the three ways to the capacity are still shown as measured
    expect(U(found, 'unit.capacity_from_chilled_water')).toBeGreaterThan(U(found, 'unit.capacity'));
  });

  test('reconciled readings close every balance', () => {
    const off = only(truth.points, ALL);
    const flow = off['chilled_water.flow'] as { value: number };
    const points = { ...off, 'chilled_water.flow': { ...off['chilled_water.flow']!, value: 1.02 * flow.value } };
    const { balances, points: reconciled } = solver.solve(snapshotOf(points)).reconciliation;
    expect(balances.length).toBeGreaterThan(15);
    for (const { name, unit, before, after } of balances) {
      const size = unit === 'W' ? 5e6 : unit === 'kg/s' ? 30 : 1;
      expect(Math.abs(after) / size, name).toBeLessThan(2e-5);
      expect(Math.abs(before) / size, name).toBeLessThan(0.02);
    }
    const found = reconciled['chilled_water.flow'];
    expect(found?.value).toBeLessThan(1.02 * flow.value);
    expect(found?.value).toBeGreaterThan(flow.value);
  });
});

describe('a sensor that is off', () => {
  test('tank temperature by eight uncertainties: found, never another one alone', () => {
    const [found] = campaign(ALL, 60, [8], 20261128, ['flash_tank.temperature']);
    expect(found?.sensor).toBe('flash_tank.temperature');
    expect((found?.right ?? 0) + (found?.among ?? 0)).toBeGreaterThanOrEqual(50);
    const by = found?.theory ?? { right: 0, among: 0 };
    expect(by.right + by.among).toBeGreaterThan(0.9);
    expect(found?.wrong).toBeLessThanOrEqual(2);
  });

  test('a named sensor gets no weight, and what it tells is marked', () => {
    const points = only(truth.points, ALL);
    const flow = points['condenser_water.flow']!;
    const wrong = snapshotOf({ ...points, 'condenser_water.flow': { ...flow, value: 1.3 * (flow.value as number) } });
    const value = (solution: ReturnType<Solver['solve']>, name: string) => solution.metrics[name]?.value as number;
    const right = value(solve(ALL), 'unit.capacity');
    const trusted = solver.solve(wrong);
    expect(trusted.reconciliation.suspects[0]).toContain('condenser_water.flow');
    const found = solver.solve(wrong, [['condenser_water.flow']]);
    expect(Math.abs(value(trusted, 'unit.capacity') / right - 1)).toBeGreaterThan(0.02);
    expect(Math.abs(value(found, 'unit.capacity') / right - 1)).toBeLessThan(0.005);
    expect(value(found, 'condenser.heat_rejected') / value(solve(ALL), 'condenser.heat_rejected')).toBeCloseTo(1, 2);
    expect(found.metrics['condenser.heat_rejected']).toMatchObject({ quality: 'uncertain' });
    expect(found.metrics['condenser.heat_rejected']?.reason).toContain('condenser_water.flow does not fit');
    // the test itself goes on with every reading: it must be able to acquit
    expect(found.reconciliation.chi_square).toEqual(trusted.reconciliation.chi_square);
  });

  test('of several that cannot be told apart all are marked', () => {
    const group = ['chilled_water.flow', 'chilled_water.leaving_temperature'];
    const found = solve(ALL, [group, ['unit.power']]);
    for (const name of ['evaporator.approach', 'unit.power'])
      expect(found.metrics[name]?.quality, name).toBe('uncertain');
    expect(found.metrics['condenser.approach']?.quality).toBe('good');
  });

  test('without a fault nobody stands accused, minutes drawn anew or kept', () => {
    expect(quietDays(ALL, 1, 120, 0, 20261129)).toMatchObject({ named: 0, accused: 0 });
    const kept = quietDays(ALL, 20, 30, 1, 20261130);
    // at most one day in twenty by the level of the test: 20 days exceed 4 once in four hundred
    expect(kept.named + kept.accused).toBeLessThanOrEqual(4);
  });

  test('theory: nothing shows nothing, much shows alone, and what shows nearly alike stays among others', () => {
    const next = normal(7);
    const apart = [
      [1, 0, 0],
      [0, 1, 0],
    ];
    const alike = [
      [1, 0, 0],
      [Math.cos(0.1), Math.sin(0.1), 0],
    ];
    // a true hypothesis fails the global test once in twenty, and names one of two about as often
    expect(theory(apart, 0, 0, next).power).toBeLessThan(0.05);
    expect(theory(apart, 0, 8, next).right).toBeGreaterThan(0.9);
    const near = theory(alike, 0, 8, next);
    expect(near.right).toBeLessThan(0.1);
    expect(near.among).toBeGreaterThan(0.8);
    expect(near.power).toBeGreaterThan(0.99);
  });
});

describe('one more sensor', () => {
  const without = (...names: string[]) => ALL.filter((name) => !names.includes(name));
  const uncertainty = (name: string, value: number) =>
    name.endsWith('.flow') || name.endsWith('.power') ? 0.01 * value : name.endsWith('.pressure') ? 5e3 : 0.3;

  test('says what the sensor then really brings', () => {
    const names = without('condenser_water.flow', 'flash_tank.temperature');
    const snapshot = snapshotOf(only(truth.points, names));
    const told = solver.oneMore(snapshot, uncertainty);
    const flow = told.find(({ point }) => point === 'condenser_water.flow');
    const capacity = flow?.metrics.find(({ name }) => name === 'unit.capacity');
    const added = solve([...names, 'condenser_water.flow']);
    expect(capacity?.now).toBe(solver.solve(snapshot).metrics['unit.capacity']?.uncertainty);
    expect((capacity?.with_it ?? 0) / (added.metrics['unit.capacity']?.uncertainty as number)).toBeCloseTo(1, 2);
    // nothing there tells the same as condenser water's temperatures until its flow is there
    expect(flow?.checks).toEqual(
      expect.arrayContaining(['condenser_water.entering_temperature', 'condenser_water.leaving_temperature']),
    );
    expect(told.map(({ point }) => point)).toContain('flash_tank.temperature');
  });

  test('what is out of reach comes first', () => {
    const told = solver.oneMore(snapshotOf(only(truth.points, SETS['B'] as readonly string[])), uncertainty);
    const [first] = told;
    expect(first?.metrics.some(({ now }) => now === null)).toBe(true);
    const flow = told.find(({ point }) => point === 'chilled_water.flow');
    expect(flow?.metrics.find(({ name }) => name === 'unit.capacity')?.now).toBeNull();
  });
});
