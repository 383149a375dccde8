import { readFile, stat } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { analyseLoop } from '../valves/analyse.ts';
import { type LoopSettings, loopAnswer, loopOf } from '../valves/loop.ts';
import { readRecording } from '../valves/recording.ts';
import { LOOP_KINDS } from '../valves/types.ts';
import type { Command } from './io.ts';

const OPTIONS = {
  time: { type: 'string' },
  output: { type: 'string' },
  measured: { type: 'string' },
  setpoint: { type: 'string' },
  position: { type: 'string' },
  kind: { type: 'string' },
  band: { type: 'string' },
  stroke: { type: 'string' },
  help: { type: 'boolean' },
} as const;

interface Settings extends LoopSettings {
  readonly file: string;
  readonly columns: Readonly<Record<'time' | 'output' | 'measured', string>> & {
    readonly setpoint: string | null;
    readonly position: string | null;
  };
}

function readSettings(args: readonly string[]): Result<Settings | 'help'> {
  let parsed: ReturnType<typeof parseArgs<{ options: typeof OPTIONS; allowPositionals: true }>>;
  try {
    parsed = parseArgs({ args: [...args], options: OPTIONS, allowPositionals: true });
  } catch (error) {
    return fail('usage', error instanceof Error ? error.message : 'the call is not understood');
  }
  const { values, positionals } = parsed;
  if (values.help === true) return ok('help');
  const [file, ...more] = positionals;
  if (file === undefined || more.length > 0) return fail('usage', 'name one file');
  const { time, output, measured } = values;
  if (time === undefined || output === undefined || measured === undefined)
    return fail('usage', `--${time === undefined ? 'time' : output === undefined ? 'output' : 'measured'} is missing`);
  const kind = LOOP_KINDS.find((each) => each === (values.kind ?? 'level'));
  if (kind === undefined) return fail('usage', `--kind ${values.kind}: it is one of ${LOOP_KINDS.join(', ')}`);
  const [band, stroke] = [positive(values.band), positive(values.stroke)];
  if (Number.isNaN(band)) return fail('usage', `--band ${values.band}: not a number above 0`);
  if (Number.isNaN(stroke)) return fail('usage', `--stroke ${values.stroke}: not a number above 0`);
  const { setpoint = null, position = null } = values;
  return ok({ file, columns: { time, output, measured, setpoint, position }, kind, band, stroke });
}

/** Null where not given, NaN where it is no number above 0. */
function positive(text: string | undefined): number | null {
  if (text === undefined) return null;
  const value = text.trim() === '' ? Number.NaN : Number(text);
  return Number.isFinite(value) && value > 0 ? value : Number.NaN;
}

async function readText(file: string): Promise<Result<string>> {
  try {
    const { size } = await stat(file);
    if (size > LIMITS.recording_bytes_max)
      return fail('recording', `${file}: larger than ${LIMITS.recording_bytes_max} bytes; cut it into parts`);
    return ok(await readFile(file, 'utf8'));
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code;
    const why = code === 'ENOENT' ? 'no such file' : code === 'EISDIR' ? 'it is a folder' : String(code ?? error);
    return fail('recording', `${file}: cannot be read (${why})`);
  }
}

export const command: Command = {
  summary: 'Says of a recording of a control loop whether it hunts, and why',
  usage: `tonhour hunting FILE --time COLUMN --output COLUMN --measured COLUMN
                [--setpoint COLUMN] [--position COLUMN] [--kind ${LOOP_KINDS.join('|')}] [--band B] [--stroke S]

Reads a table with one line of column names (comma, semicolon or tab between cells; an empty cell is a missing sample)
and prints one JSON object: {verdict, reason, index, period_s, amplitude, cause, sticking: {verdict, score, from}, flags, ...}.
Times are seconds or RFC 3339, ascending. Uncertainties are expanded (k = 2).

  --output     the controller's output, the command to the valve     --position  where the valve stands
  --kind       what is controlled (default level: it integrates)
  --band       least amplitude worth a verdict, in the unit of --measured (default: none, the noise alone is the measure)
  --stroke     full stroke in the unit of --output (default: 1 or 100, as the values lie)
`,
  async run(args, io) {
    const settings = readSettings(args);
    if (!settings.ok) {
      io.err.write(`tonhour hunting: ${settings.fault.message}\n\n${command.usage}`);
      return 2;
    }
    if (settings.value === 'help') {
      io.out.write(command.usage);
      return 0;
    }
    const { file, columns } = settings.value;
    const text = await readText(file);
    const recording = text.ok ? readRecording(text.value, { file, columns }) : text;
    if (!recording.ok) {
      io.err.write(`tonhour hunting: ${recording.fault.message}\n`);
      return 2;
    }
    const verdict = analyseLoop(loopOf(recording.value, settings.value), 'whole');
    io.out.write(`${JSON.stringify(loopAnswer(verdict))}\n`);
    return 0;
  },
};
