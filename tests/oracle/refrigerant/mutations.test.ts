/**
 * The grid comparison can fail: every coefficient and exponent of every equation, changed alone and a little, is
 * noticed by it. Proves the comparison, and that no coefficient is idle on the grid.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { PureRefrigerant } from '../../../agent/refrigerant/pure_refrigerant.ts';
import { REFRIGERANTS, refrigerantData } from '../../../agent/refrigerant/refrigerants.ts';
import type { RefrigerantData } from '../../../agent/refrigerant/shape.ts';
import { readGrid, TOLERANCE } from './grid.ts';

/** Relative change of one number. */
const CHANGE = 1e-3;

type Grids = Record<'saturation' | 'single-phase', Record<string, number>[]>;

/** Whether the grid tells the changed equation from the right one. */
function noticed(data: RefrigerantData, grids: Grids): boolean {
  let fluid: PureRefrigerant;
  try {
    fluid = new PureRefrigerant(data);
  } catch {
    return true; // no saturation line at all
  }
  const off = (found: number | null, expected: number) =>
    found === null || !(Math.abs(found / expected - 1) < TOLERANCE);
  for (const row of grids['saturation']) {
    const p = fluid.saturationPressure(row['T']!);
    if (!p.ok || off(p.value, row['p']!)) return true;
  }
  for (const row of grids['single-phase']) {
    const state = fluid.TP(row['T']!, row['p']!);
    if (!state.ok) return true;
    for (const quantity of ['rho', 'h', 's', 'cp', 'w'] as const)
      if (off(state.value[quantity], row[quantity]!)) return true;
  }
  return false;
}

/** Every number of the equation's terms, as a path into the data. */
function numbersOf(data: RefrigerantData): (string | number)[][] {
  const paths: (string | number)[][] = [];
  const walk = (value: unknown, path: (string | number)[]): void => {
    if (typeof value === 'number') paths.push(path);
    else if (Array.isArray(value))
      value.forEach((item, i) => {
        walk(item, [...path, i]);
      });
    else if (typeof value === 'object' && value !== null) {
      for (const [key, item] of Object.entries(value)) walk(item, [...path, key]);
    }
  };
  for (const part of ['ideal', 'residual', 'reducing', 'molar_mass_kg_per_mol', 'gas_constant_J_per_mol_K'] as const) {
    walk(data[part], [part]);
  }
  return paths;
}

/**
 * A copy with one number changed: whole powers of density by one, powers of temperature by 0.1, all else relatively.
 */
function changed(data: RefrigerantData, path: readonly (string | number)[]): RefrigerantData {
  const copy = structuredClone(data);
  let place = copy as unknown as Record<string | number, unknown>;
  for (const key of path.slice(0, -1)) place = place[key] as Record<string | number, unknown>;
  const last = path.at(-1)!;
  const value = place[last] as number;
  const whole = path[0] === 'residual' && (last === 'd' || last === 'l');
  place[last] = whole ? value + 1 : last === 't' ? value + 0.1 : value * (1 + CHANGE);
  return copy;
}

describe.each(REFRIGERANTS)('%s', (name) => {
  const data = must(refrigerantData(name));
  const grids = { saturation: readGrid(name, 'saturation'), 'single-phase': readGrid(name, 'single-phase') };

  test('the equation as it is passes', () => {
    expect(noticed(data, grids)).toBe(false);
  });

  test('each number changed alone is noticed', () => {
    const paths = numbersOf(data);
    expect(paths.length).toBeGreaterThan(80);
    const missed = paths.filter((path) => !noticed(changed(data, path), grids));
    console.log(
      `${name}: ${paths.length} numbers changed one at a time (factors by ${CHANGE}), ${missed.length} missed`,
    );
    expect(missed.map((path) => path.join('.'))).toStrictEqual([]);
  });
});
