import { parseArgs } from 'node:util';
import { fail, must } from '../base/result.ts';
import { formatIssues, loadSite } from '../config/load.ts';
import { recordSolver } from '../site/given.ts';
import type { Command } from './io.ts';
import { answerLines } from './records.ts';

export const command: Command = {
  summary: "Solves the cycle from a chiller's points",
  usage: `tonhour solve --config FILE --chiller ID

Reads NDJSON on standard input, one interval a line: {"time": RFC 3339, "points": {name: {"value", "unit", "u"}}}, and answers each with
{state, economizer, states, ghost, metrics: {name: {value, unit, uncertainty, quality, reason}}, corrections, suspects, chi_square, unobservable}.
Gauge units count from the site's barometer, or from the standard atmosphere where the site file says sealed_gauge. u is the standard
uncertainty (k = 1) in the unit given; left out: the site file's, else the common default. "quality" and "reason" may be given too, and
of a level "rate" and "rate_u": how fast it rose, in its unit per second, and the standard uncertainty of that.
Uncertainties answered are expanded (k = 2). A bad line answers {"error":{"code","message"}}.
`,
  async run(args, io) {
    const wrong = (message: string): number => {
      io.err.write(`tonhour solve: ${message}\n\n${command.usage}`);
      return 2;
    };
    let flags: { config?: string; chiller?: string; help?: boolean };
    try {
      const options = { config: { type: 'string' }, chiller: { type: 'string' }, help: { type: 'boolean' } } as const;
      flags = parseArgs({ args: [...args], options }).values;
    } catch (error) {
      return wrong(error instanceof Error ? error.message : 'the call is not understood');
    }
    if (flags.help === true) {
      io.out.write(command.usage);
      return 0;
    }
    if (flags.config === undefined) return wrong('--config is missing');
    if (flags.chiller === undefined) return wrong('--chiller is missing');
    const site = await loadSite(flags.config, { env: process.env });
    if (!site.ok) {
      io.err.write(formatIssues(site.fault));
      return 2;
    }
    const { chillers, barometer } = site.value;
    const chiller = chillers.find(({ id }) => id === flags.chiller);
    if (chiller === undefined)
      return wrong(
        `no chiller '${flags.chiller}' in ${flags.config}; there are ${chillers.map(({ id }) => id).join(', ')}`,
      );
    const { machine, points } = chiller;
    const solve = must(recordSolver({ machine, points, barometer }));
    const failed = await answerLines(io, (record, line) => {
      const answer = solve(record);
      return answer.ok ? answer : fail(answer.fault.code, `line ${line}: ${answer.fault.message}`);
    });
    return failed === 0 ? 0 : 1;
  },
};
