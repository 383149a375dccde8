/**
 * What cannot be told apart, found another way: derivatives by central differences of whole solutions, the unmeasured
 * quantities projected out through the eigenvectors of a symmetric matrix (Jacobi rotations), and the rank of every
 * pair of columns by its singular values. Nothing of the reconciliation's own algebra is used.
 */
import { describe, expect, test } from 'vitest';
import { openBooks } from '../../../agent/cycle/books.ts';
import type { Balanced } from '../../../agent/cycle/reconciliation/reconcile.ts';
import { LEAST_SHARE } from '../../../agent/cycle/reconciliation/suspects.ts';
import { consistent, only, type Points, prepared, SETS, snapshotOf } from '../../proof/consistent.ts';

/** Eigenvalues and eigenvectors (rows) of a symmetric matrix by Jacobi rotations. */
function eigen(matrix: readonly number[][]): { values: number[]; vectors: number[][] } {
  const n = matrix.length;
  const a = matrix.map((row) => [...row]);
  const v: number[][] = a.map((_, i) => a.map((__, j) => (i === j ? 1 : 0)));
  for (let sweep = 0; sweep < 60; sweep++) {
    for (let p = 0; p < n; p++)
      for (let q = p + 1; q < n; q++) {
        if (Math.abs(a[p]![q]!) < 1e-300) continue;
        const theta = (a[q]![q]! - a[p]![p]!) / (2 * a[p]![q]!);
        const t = Math.sign(theta || 1) / (Math.abs(theta) + Math.hypot(theta, 1));
        const c = 1 / Math.hypot(t, 1);
        const s = t * c;
        for (let k = 0; k < n; k++) {
          const [x, y] = [a[k]![p]!, a[k]![q]!];
          a[k]![p] = c * x - s * y;
          a[k]![q] = s * x + c * y;
        }
        for (let k = 0; k < n; k++) {
          const [x, y] = [a[p]![k]!, a[q]![k]!];
          a[p]![k] = c * x - s * y;
          a[q]![k] = s * x + c * y;
          const [e, f] = [v[p]![k]!, v[q]![k]!];
          v[p]![k] = c * e - s * f;
          v[q]![k] = s * e + c * f;
        }
      }
  }
  return { values: a.map((row, i) => row[i]!), vectors: v };
}

const truth = consistent();

/** Residuals of the relations at these points, unknowns and assumptions kept where the solution has them. */
function groupsOf(set: readonly string[]): { found: string[][]; expected: string[][] } {
  const machine = prepared(truth.parameters);
  const points: Points = only(truth.points, set);
  const open = openBooks(machine, snapshotOf(points), { uncertainty: true });
  const { equations } = open.balanced as Balanced;
  const { inputs } = open.leaf.interval;
  const known = (at: number, by: number): number[] => {
    const moved = inputs.map((input, k) => (k === at ? { ...input, value: input.value + by } : input));
    const values = new Map(moved.map((input) => [input.name, input.value]));
    const shifted: Points = Object.fromEntries(
      Object.entries(points).map(([point, of]) => [point, { ...of, value: values.get(point) ?? of.value }]),
    );
    const drive = (machineName: 'main_compressor' | 'economizer_compressor') => ({
      ...truth.parameters[machineName],
      drive_efficiency: values.get(`assumed.${machineName}_drive`) as number,
      assumed_isentropic_efficiency: values.get(`assumed.${machineName}_efficiency`) as number,
    });
    const parameters = {
      ...truth.parameters,
      main_compressor: drive('main_compressor'),
      economizer_compressor: drive('economizer_compressor'),
      suction_superheat: values.get('assumed.suction_superheat') as number,
      auxiliary_power: values.get('assumed.auxiliary_power') as number,
    };
    const { base } = openBooks({ ...machine, parameters }, snapshotOf(shifted), { uncertainty: false });
    return equations.known.map((quantity) => {
      if (values.has(quantity)) return values.get(quantity) as number;
      const entry = base.entry(quantity.startsWith('h:') ? `state:${quantity.slice(2)}` : quantity);
      return typeof entry === 'number' ? entry : (entry as { h: number }).h;
    });
  };
  const unknown = solvedUnknown(
    equations,
    known(-1, 0),
    (node) => (open.base.entry(`state:${node}`) as { h: number }).h,
  );
  const residual = (k: number[], u: number[]) => equations.residual(k, u);
  const rows = equations.relations.length;
  // df/du: each relation is a line in each unknown, so any step does
  const here = known(-1, 0);
  const size = unknown.map((value) => Math.max(1, Math.abs(value)));
  const M = unknown.map((value, j) => {
    const step = 0.1 * (size[j] as number);
    const up = residual(
      here,
      unknown.map((each, k) => (k === j ? value + step : each)),
    );
    const down = residual(
      here,
      unknown.map((each, k) => (k === j ? value - step : each)),
    );
    return up.map((each, row) => (each - (down[row] as number)) / 0.2);
  });
  const free = unreached(M, rows);
  const columns = new Map<string, number[]>();
  inputs.forEach((input, at) => {
    if (!(input.u > 0) || input.reason !== null) return;
    const step = 0.1 * input.u;
    const up = residual(known(at, step), unknown);
    const down = residual(known(at, -step), unknown);
    const slope = up.map((each, row) => ((each - (down[row] as number)) / (2 * step)) * input.u);
    columns.set(
      input.name,
      free.map((direction) => direction.reduce((sum, part, row) => sum + part * (slope[row] as number), 0)),
    );
  });
  const expected = alike(columns);
  return { found: (open.verdict?.groups ?? []).map((group) => [...group]), expected };
}

/** Directions that no combination of the columns reaches. */
function unreached(M: readonly number[][], rows: number): number[][] {
  const MMt = Array.from({ length: rows }, (_, i) =>
    Array.from({ length: rows }, (__, j) => M.reduce((sum, column) => sum + column[i]! * column[j]!, 0)),
  );
  const { values: lambda, vectors } = eigen(MMt);
  const top = Math.max(...lambda);
  return vectors.filter((_, i) => (lambda[i] as number) < 1e-14 * top);
}

/** Inputs whose columns are multiples of each other once the constraints are scaled by their own spread. */
function alike(columns: ReadonlyMap<string, number[]>): string[][] {
  // whiten: V = A Sigma A', signature V^-1/2 a
  const A = [...columns.values()];
  const V = A[0]!.map((_, i) => A[0]!.map((__, j) => A.reduce((sum, a) => sum + a[i]! * a[j]!, 0)));
  const white = eigen(V);
  const signature = (a: number[]) =>
    white.vectors.map(
      (direction, i) =>
        direction.reduce((sum, part, k) => sum + part * a[k]!, 0) / Math.sqrt(white.values[i] as number),
    );
  const checked = [...columns]
    .map(([name, a]) => [name, signature(a)] as const)
    .filter(([, g]) => Math.hypot(...g) >= LEAST_SHARE);
  const expected: string[][] = [];
  for (const [name, g] of checked) {
    const same = expected.find(([first]) => {
      const other = checked.find(([each]) => each === first)?.[1] as number[];
      const [gg, oo, go] = [dot(g, g), dot(other, other), dot(g, other)] as [number, number, number];
      // singular values of the two columns, scaled to one: the smaller is nil where they are multiples
      const c = Math.abs(go) / Math.sqrt(gg * oo);
      return Math.sqrt(Math.max(0, 1 - c)) < 2e-3;
    });
    if (same === undefined) expected.push([name]);
    else same.push(name);
  }
  return expected;
}

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, k) => sum + value * (b[k] as number), 0);
}

/** Unknowns that close the relations, by plain normal equations from nothing. */
function solvedUnknown(
  equations: Balanced['equations'],
  known: number[],
  enthalpy: (node: string) => number,
): number[] {
  const n = equations.unknown.length;
  const k = [...known];
  // enthalpies that only power tells stay where the solution has them: the rest is linear
  const zero = equations.unknown.map((name) => (name.startsWith('h:') ? enthalpy(name.slice(2)) : 0));
  const size = equations.unknown.map((name) => (name.startsWith('m:') ? 30 : name.startsWith('h:') ? 0 : 5e6));
  const base = [...equations.residual(k, zero)];
  const columns = size.map((step, j) => {
    const u = [...zero];
    u[j] = (u[j] as number) + step;
    return [...equations.residual(k, u)].map((value, row) => value - (base[row] as number));
  });
  const N = columns.map((a) => columns.map((b) => dot(a, b)));
  const right = columns.map((a) => -dot(a, base));
  const { values, vectors } = eigen(N);
  const top = Math.max(...values);
  const x = new Array<number>(n).fill(0);
  vectors.forEach((direction, i) => {
    if ((values[i] as number) < 1e-14 * top) return;
    const along = dot(direction, right) / (values[i] as number);
    direction.forEach((part, j) => {
      x[j] = (x[j] as number) + along * part;
    });
  });
  return x.map((value, j) => (zero[j] as number) + value * (size[j] as number));
}

const sorted = (groups: string[][]) =>
  groups.map((group) => [...group].sort()).sort((a, b) => (a[0]! < b[0]! ? -1 : 1));

describe('groups that cannot be told apart', () => {
  test.each(['C+D', 'C+D+condenser flow', 'C+D+condenser flow+economizer power', 'all'])('%s', (name) => {
    const { found, expected } = groupsOf(SETS[name] as readonly string[]);
    expect(sorted(found)).toEqual(sorted(expected));
    expect(found.length).toBeGreaterThan(0);
  });

  test('with everything measured: what has one way into the balances is one group', () => {
    const { found } = groupsOf(SETS['all'] as readonly string[]);
    const of = (name: string) => found.find((group) => group.includes(name));
    expect(of('chilled_water.flow')).toEqual([
      'chilled_water.entering_temperature',
      'chilled_water.leaving_temperature',
      'chilled_water.flow',
    ]);
    expect(of('unit.power')).toEqual(['unit.power']);
    expect(of('flash_tank.temperature')).toEqual(['flash_tank.temperature']);
  });
});
