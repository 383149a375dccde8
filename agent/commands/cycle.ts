import { fail } from '../base/result.ts';
import { design } from '../cycle/design.ts';
import type { Command } from './io.ts';
import { answerLines } from './records.ts';

export const command: Command = {
  summary: 'Forward design calculation of a circuit',
  usage: `tonhour cycle

Reads NDJSON in SI units on standard input, one circuit a line, and answers each with {states, capacity, flow, power, cop, metrics}:
  refrigerant    such as "R134a"
  arrangement    "simple", "parallel", "interstage" or "subcooler"; economizer: "on" (default) or "off"
  evaporator     {"p": Pa} or {"T": K}, superheat K
  tanks          [{"p": Pa}] or [{"T": K}]; not for "simple". "interstage": two of them make three stages; "subcooler": where its branch boils off
  subcooler      {"approach": 3, "superheat": 0}: K, cooled liquid above what boils off, and superheat of that vapour; "subcooler" alone
  condenser      {"p": Pa} or {"T": K}, subcooling K
  compressors    [{"isentropic_efficiency": 0.8, "drive_efficiency": 1}], main first, then economizer; of several stages one after the other, or
                 one entry for all, and with the economizer off the first for the whole. "polytropic_efficiency" instead of the other
  condenser_water {"entering_temperature": K}: then the saving once more with the condenser solved anew without economizer
  capacity W, flow kg/s (evaporator) or power W: one of them
  states         {"1": {"p", "T"}, "2": ..., "3": ...}: measured suction, discharge (of several stages: "10"), condensed liquid in place of computed
                 ones; pressures and efficiency then follow from them where not given
States by number: T K, p Pa, h J/kg, s J/(kg K), q vapour by mass, m kg/s. Metrics in the units of the catalogue, null where a design has none.
A bad line answers {"error":{"code","message"}}.
`,
  async run(args, io) {
    if (args.length > 0) {
      const help = args[0] === '--help' || args[0] === '-h';
      (help ? io.out : io.err).write(help ? command.usage : `tonhour cycle: takes no arguments\n\n${command.usage}`);
      return help ? 0 : 2;
    }
    const failed = await answerLines(io, (record, line) => {
      const answer = design(record);
      return answer.ok ? answer : fail(answer.fault.code, `line ${line}: ${answer.fault.message}`);
    });
    return failed === 0 ? 0 : 1;
  },
};
