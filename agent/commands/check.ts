/** `check`: reads every mapped point a few times over its real bus and says what is odd about how it is mapped. */
import { parseArgs } from 'node:util';
import { type CheckedChiller, checkChiller } from '../checking.ts';
import { formatIssues, openSite } from '../config/load.ts';
import { type LearnedEfficiency, NOTHING_LEARNED } from '../cycle/learning/learner.ts';
import { HistoryReader } from '../history/reader.ts';
import type { ChillerSite, Site } from '../site/site.ts';
import { systemTimers } from '../sources/timers.ts';
import { readState } from '../state.ts';
import { chillerText, readingText } from './check-text.ts';
import { explainText } from './explain-text.ts';
import type { Command, CommandIo } from './io.ts';

const SAMPLES = 4;
const EVERY_S = 3;

export const command: Command = {
  summary: 'Reads every mapped point over its bus and says what is odd',
  usage: `tonhour check --config FILE [--chiller ID] [--explain] [--json]

Reads every point of the site file ${SAMPLES} times, ${EVERY_S} s apart, and compares the readings with each other: order of temperatures and
pressures, saturation against pressure, heat against power. Names units, scales, pressure references, orders of words and exchanged points
that would make them agree, with file and line. Most of it needs a running machine. A small error fits everywhere: silence is no calibration.
It only reads; ask who looks after the controls before pointing it at a live machine.

  --config FILE   the site file (config/README.md)
  --chiller ID    this chiller alone
  --samples N     readings of each point (default ${SAMPLES}, at least 1)
  --every S       seconds between two readings (default ${EVERY_S}, at least 0.2): reading is a load on the controller
  --explain       the whole solution from these readings: points used and how far the balances correct each, balances, states, metrics
                  with their uncertainties, and what one more sensor would bring
  --json          one JSON object a chiller instead of the table

Exit code 0: nothing odd. 1: findings, or a controller that cannot be read. 2: wrong call or site file.
`,
  async run(args, io) {
    const flags = readFlags(args);
    if (typeof flags === 'string') {
      io.err.write(`tonhour check: ${flags}\n\n${command.usage}`);
      return 2;
    }
    const opened = await openSite(flags.config, { env: process.env });
    if (!opened.ok) {
      io.err.write(formatIssues(opened.fault));
      return 2;
    }
    const { site, lineOf } = opened.value;
    const chosen = site.chillers.filter(({ id }) => flags.chiller === undefined || id === flags.chiller);
    if (chosen.length === 0) {
      const there = site.chillers.map(({ id }) => id).join(', ');
      io.err.write(`tonhour check: no chiller '${flags.chiller}' in ${flags.config}; there are ${there}\n`);
      return 2;
    }
    let odd = false;
    for (const chiller of chosen) {
      const path = ['chillers', site.chillers.indexOf(chiller)];
      const place = (keys: readonly string[]): string => `${flags.config}:${lineOf([...path, ...keys])}`;
      const checked = await check(chiller, { flags, io, site, place });
      if (checked === null) return 1;
      odd ||= checked.findings.length > 0;
      io.out.write(flags.json ? `${JSON.stringify(asJson(checked, flags.explain))}\n` : asText(checked, flags.explain));
    }
    return odd ? 1 : 0;
  },
};

interface Flags {
  readonly config: string;
  readonly chiller: string | undefined;
  readonly samples: number;
  readonly every_s: number;
  readonly explain: boolean;
  readonly json: boolean;
}

function readFlags(args: readonly string[]): Flags | string {
  const options = {
    config: { type: 'string' },
    chiller: { type: 'string' },
    samples: { type: 'string' },
    every: { type: 'string' },
    explain: { type: 'boolean' },
    json: { type: 'boolean' },
  } as const;
  try {
    const { values } = parseArgs({ args: [...args], options });
    const { config, chiller, explain = false, json = false } = values;
    if (config === undefined) return '--config is missing';
    const samples = Number(values.samples ?? SAMPLES);
    if (!Number.isInteger(samples) || samples < 1 || samples > 1000) return `--samples ${values.samples}: 1 to 1000`;
    const every_s = Number(values.every ?? EVERY_S);
    if (!(every_s >= 0.2 && every_s <= 600)) return `--every ${values.every}: 0.2 to 600 seconds`;
    return { config, chiller, samples, every_s, explain, json };
  } catch (error) {
    return error instanceof Error ? error.message : 'the call is not understood';
  }
}

async function check(
  chiller: ChillerSite,
  options: {
    readonly flags: Flags;
    readonly io: CommandIo;
    readonly site: Pick<Site, 'barometer' | 'history'>;
    readonly place: (keys: readonly string[]) => string;
  },
): Promise<CheckedChiller | null> {
  const { flags, io, site, place } = options;
  const { samples, every_s } = flags;
  io.err.write(`${chiller.id}: ${readingText(chiller.points.length, { samples, every_s })} ...\n`);
  const checked = await checkChiller({
    chiller,
    barometer: site.barometer,
    learned: learnedAt(site.history.folder, chiller.id),
    samples,
    every_s,
    place,
    stop: io.stop,
    means: {
      clock: { now: () => Date.now(), monotonic: () => performance.now() },
      timers: systemTimers,
      random: Math.random,
      // What goes wrong on the bus stands in the findings.
      log: { info: () => {}, warn: () => {} },
    },
  });
  if (checked.ok) return io.stop.aborted ? null : checked.value;
  io.err.write(`tonhour check: ${checked.fault.message}\n`);
  return null;
}

/** From the history of an agent that runs or ran with this site file; nothing where there is none that can be read. */
function learnedAt(folder: string, chiller: string): LearnedEfficiency {
  const reader = HistoryReader.open(folder);
  if (!reader.ok) return NOTHING_LEARNED;
  const stored = reader.value.state(chiller);
  if (!stored.ok) return NOTHING_LEARNED;
  reader.value.close();
  const kept = readState(stored.value?.state ?? null, chiller);
  return kept.ok ? kept.value.state.learned : NOTHING_LEARNED;
}

function asText(checked: CheckedChiller, explain: boolean): string {
  return chillerText(checked) + (explain ? explainText(checked) : '');
}

function asJson(checked: CheckedChiller, explain: boolean): object {
  const { solution, one_more, ...rest } = checked;
  return explain ? { ...rest, solution, one_more } : rest;
}
