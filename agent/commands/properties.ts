import { parseArgs } from 'node:util';
import { fail, type Result } from '../base/result.ts';
import { REFRIGERANTS, refrigerant } from '../refrigerant/refrigerants.ts';
import type { Refrigerant, State } from '../refrigerant/types.ts';
import type { Command } from './io.ts';
import { answerLines } from './records.ts';

type Given = Readonly<Record<string, number>>;
type Solve = (fluid: Refrigerant, given: Given) => Result<State>;

/** Each pair: the keys a record has, and the call that answers it. */
const PAIRS = new Map<string, { readonly keys: readonly [string, string]; readonly solve: Solve }>([
  ['TP', { keys: ['T', 'p'], solve: (fluid, given) => fluid.TP(given['T']!, given['p']!) }],
  ['PH', { keys: ['p', 'h'], solve: (fluid, given) => fluid.PH(given['p']!, given['h']!) }],
  ['PS', { keys: ['p', 's'], solve: (fluid, given) => fluid.PS(given['p']!, given['s']!) }],
  ['PQ', { keys: ['p', 'q'], solve: (fluid, given) => fluid.PQ(given['p']!, given['q']!) }],
  ['TQ', { keys: ['T', 'q'], solve: (fluid, given) => fluid.TQ(given['T']!, given['q']!) }],
]);

export const command: Command = {
  summary: 'States of a refrigerant from pairs of properties',
  usage: `tonhour properties --refrigerant NAME --pair ${[...PAIRS.keys()].join('/')}

Reads NDJSON in SI units on standard input, one record a line with the pair's two numbers ({"T":280,"p":3e5} for TP),
and answers each with {T,p,rho,h,s,q,cp,cv,w,phase}: K, Pa, kg/m3, J/kg, J/(kg K), vapour by mass, J/(kg K), m/s.
A bad line answers {"error":{"code","message"}}, the others are answered all the same; blank lines are passed over.
Refrigerants: ${REFRIGERANTS.join(', ')}.
`,
  async run(args, io) {
    const wrong = (message: string): number => {
      io.err.write(`tonhour properties: ${message}\n\n${command.usage}`);
      return 2;
    };
    const flags = readFlags(args);
    if (typeof flags === 'string') return wrong(flags);
    if (flags.help === true) {
      io.out.write(command.usage);
      return 0;
    }
    if (flags.refrigerant === undefined) return wrong('--refrigerant is missing');
    if (flags.pair === undefined) return wrong('--pair is missing');
    const pair = PAIRS.get(flags.pair.toUpperCase());
    if (pair === undefined) return wrong(`no pair '${flags.pair}'; pairs are ${[...PAIRS.keys()].join(', ')}`);
    const fluid = refrigerant(flags.refrigerant);
    if (!fluid.ok) return wrong(fluid.fault.message);
    const failed = await answerLines(io, (record, line) => {
      const given = readGiven(record, pair.keys, line);
      if (!given.ok) return given;
      const state = pair.solve(fluid.value, given.value);
      return state.ok ? state : fail(state.fault.code, `line ${line}: ${state.fault.message}`);
    });
    return failed === 0 ? 0 : 1;
  },
};

function readFlags(args: readonly string[]): { refrigerant?: string; pair?: string; help?: boolean } | string {
  try {
    const options = { refrigerant: { type: 'string' }, pair: { type: 'string' }, help: { type: 'boolean' } } as const;
    return parseArgs({ args: [...args], options, strict: true, allowPositionals: false }).values;
  } catch (error) {
    return error instanceof Error ? error.message : 'the call is not understood';
  }
}

/** The two numbers of a record; anything else in it is an error too, since ignoring it would hide a mistake. */
function readGiven(record: unknown, keys: readonly [string, string], line: number): Result<Given> {
  const wanted = `{"${keys[0]}": number, "${keys[1]}": number}`;
  const bad = (what: string) => fail('bad_record', `line ${line}: ${what}; a record is ${wanted}`);
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
