/**
 * What an arrangement's tables say in numbers: residuals of its balances, and the flows that close those through which
 * no heat or work passes.
 */
import type { Balance, Circuit, Junction } from './arrangements/type.ts';
import { type Vector, zeros } from './vector.ts';

/**
 * Value of a named quantity: `m:<stream>` kg/s, `h:<node>` J/kg, and the heat and work names of the balances, W.
 */
export type Lookup = (name: string) => number;

/** Energy entering less energy leaving, W; 0 where the balance closes. */
export function energyResidual(balance: Balance, value: Lookup): number {
  let sum = 0;
  for (const { stream, node } of balance.enters) sum += value(`m:${stream}`) * value(`h:${node}`);
  for (const { stream, node } of balance.leaves) sum -= value(`m:${stream}`) * value(`h:${node}`);
  if (balance.heat !== null) sum += balance.heat.sign * value(balance.heat.quantity);
  if (balance.work !== null) sum += value(balance.work);
  return sum;
}

/** Mass entering less mass leaving, kg/s. */
export function massResidual(junction: Junction, value: Lookup): number {
  let sum = 0;
  for (const stream of junction.enters) sum += value(`m:${stream}`);
  for (const stream of junction.leaves) sum -= value(`m:${stream}`);
  return sum;
}

/** Names of all quantities that a circuit's balances relate. */
export function quantityNames(circuit: Circuit): string[] {
  const names = new Set<string>();
  for (const junction of circuit.junctions)
    for (const stream of [...junction.enters, ...junction.leaves]) names.add(`m:${stream}`);
  for (const balance of circuit.balances) {
    for (const { stream, node } of [...balance.enters, ...balance.leaves]) {
      names.add(`m:${stream}`);
      names.add(`h:${node}`);
    }
    if (balance.heat !== null) names.add(balance.heat.quantity);
    if (balance.work !== null) names.add(balance.work);
  }
  return [...names].sort();
}

export type Flows = Readonly<Record<string, number>>;

/**
 * Mass flows of all streams, kg/s, from those given and from every junction and every balance that nothing crosses.
 * Linear; the equations must be as many as the unknown streams. `enthalpy` is asked only for nodes of such balances.
 * NaN flows where singular.
 */
export function solveFlows(circuit: Circuit, given: Flows, enthalpy: (node: string) => number): Flows {
  const unknown = unknownStreams(circuit, given);
  const rows: Vector[] = [];
  const width = unknown.length + 1;
  const place = (row: Vector, stream: string, factor: number) => {
    const at = unknown.indexOf(stream);
    if (at >= 0) row[at] = (row[at] as number) + factor;
    else row[width - 1] = (row[width - 1] as number) - factor * (given[stream] as number);
  };
  for (const junction of circuit.junctions) {
    const row = zeros(width);
    for (const stream of junction.enters) place(row, stream, 1);
    for (const stream of junction.leaves) place(row, stream, -1);
    rows.push(row);
  }
  for (const balance of circuit.balances) {
    if (balance.heat !== null || balance.work !== null) continue;
    const row = zeros(width);
    // scaled to the size of a mass balance, for the pivoting
    for (const { stream, node } of balance.enters) place(row, stream, enthalpy(node) * 1e-5);
    for (const { stream, node } of balance.leaves) place(row, stream, -enthalpy(node) * 1e-5);
    rows.push(row);
  }
  const solved = eliminate(rows, unknown.length);
  const flows: Record<string, number> = { ...given };
  unknown.forEach((stream, index) => {
    flows[stream] = solved[index] as number;
  });
  return flows;
}

function unknownStreams(circuit: Circuit, given: Flows): string[] {
  const all = new Set(circuit.junctions.flatMap((junction) => [...junction.enters, ...junction.leaves]));
  return [...all].filter((stream) => !Object.hasOwn(given, stream));
}

/** Gaussian elimination with row pivoting of `n` equations, right side in the last column. */
function eliminate(rows: Vector[], n: number): Vector {
  const result = new Array<number>(n).fill(Number.NaN);
  if (rows.length !== n) return result;
  for (let column = 0; column < n; column++) {
    let pivot = column;
    for (let row = column + 1; row < n; row++)
      if (Math.abs(rows[row]![column]!) > Math.abs(rows[pivot]![column]!)) pivot = row;
    const top = rows[pivot]!;
    rows[pivot] = rows[column]!;
    rows[column] = top;
    if (!(Math.abs(top[column]!) > 1e-9)) return result;
    for (let row = column + 1; row < n; row++) {
      const factor = rows[row]![column]! / top[column]!;
      if (factor === 0) continue;
      for (let k = column; k <= n; k++) rows[row]![k]! -= factor * top[k]!;
    }
  }
  for (let row = n - 1; row >= 0; row--) {
    let sum = rows[row]![n]!;
    for (let k = row + 1; k < n; k++) sum -= rows[row]![k]! * result[k]!;
    result[row] = sum / rows[row]![row]!;
  }
  return result;
}
