import { parseArgs } from 'node:util';
import { fail } from '../base/result.ts';
import { PAIRS, pairOf } from '../refrigerant/pairs.ts';
import { REFRIGERANTS, refrigerant } from '../refrigerant/refrigerants.ts';
import type { Command } from './io.ts';
import { answerLines } from './records.ts';

export const command: Command = {
  summary: 'States of a refrigerant from pairs of properties',
  usage: `tonhour properties --refrigerant NAME --pair ${PAIRS.join('/')}

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
    const stateOf = pairOf(flags.pair);
    if (stateOf === null) return wrong(`no pair '${flags.pair}'; pairs are ${PAIRS.join(', ')}`);
    const fluid = refrigerant(flags.refrigerant);
    if (!fluid.ok) return wrong(fluid.fault.message);
    const failed = await answerLines(io, (record, line) => {
      const state = stateOf(fluid.value, record);
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
