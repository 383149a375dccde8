/** A state from a pair of properties as a record gives them: `{T, p}`, `{p, h}`, ... in SI units. */
import { fail, type Result } from '../base/result.ts';
import type { Refrigerant, State } from './types.ts';

type Given = Readonly<Record<string, number>>;
type Solve = (fluid: Refrigerant, given: Given) => Result<State>;

/** Each pair: the keys a record has, and the call that answers it. */
const SOLVERS = new Map<string, { readonly keys: readonly [string, string]; readonly solve: Solve }>([
  ['TP', { keys: ['T', 'p'], solve: (fluid, given) => fluid.TP(given['T']!, given['p']!) }],
  ['PH', { keys: ['p', 'h'], solve: (fluid, given) => fluid.PH(given['p']!, given['h']!) }],
  ['PS', { keys: ['p', 's'], solve: (fluid, given) => fluid.PS(given['p']!, given['s']!) }],
  ['PQ', { keys: ['p', 'q'], solve: (fluid, given) => fluid.PQ(given['p']!, given['q']!) }],
  ['TQ', { keys: ['T', 'q'], solve: (fluid, given) => fluid.TQ(given['T']!, given['q']!) }],
]);

export const PAIRS: readonly string[] = [...SOLVERS.keys()];

/** State of a record of one pair, such as `{"T": 280, "p": 3e5}` for TP: K, Pa, J/kg, J/(kg K), vapour by mass. */
export type StateOf = (fluid: Refrigerant, record: unknown) => Result<State>;

/** Null where there is no such pair. Faults of what it returns: `bad_record`, and those of the flashes. */
export function pairOf(name: string): StateOf | null {
  const pair = SOLVERS.get(name.toUpperCase());
  if (pair === undefined) return null;
  return (fluid, record) => {
    const given = readGiven(record, pair.keys);
    return given.ok ? pair.solve(fluid, given.value) : given;
  };
}

/** The two numbers of a record; anything else in it is an error too, since ignoring it would hide a mistake. */
function readGiven(record: unknown, keys: readonly [string, string]): Result<Given> {
  const wanted = `{"${keys[0]}": number, "${keys[1]}": number}`;
  const bad = (what: string) => fail('bad_record', `${what}; a record is ${wanted}`);
  if (typeof record !== 'object' || record === null || Array.isArray(record)) return bad('not an object');
  const values = record as Record<string, unknown>;
  for (const key of keys) {
    if (!Object.hasOwn(values, key)) return bad(`'${key}' is missing`);
    if (typeof values[key] !== 'number') return bad(`'${key}' is not a number`);
  }
  const other = Object.keys(values).find((key) => key !== keys[0] && key !== keys[1]);
  if (other !== undefined) return bad(`'${other.slice(0, 40)}' does not belong to this pair`);
  return { ok: true, value: values as Given };
}
