/**
 * How far the agent's figures are from the emulated plant's own books, in the uncertainties that the agent states.
 * Three processes that share no property or cycle code: the plant writes what its sensors showed and what was true, the
 * verb `solve` sees the sensors and the site file alone, and this script compares. Only steady minutes count (judged on
 * the plant's true points by the agent's rule).
 *
 * node agent/launch.cjs --node tests/proof/accuracy.ts [--chiller CH-1] [--minutes 2880] [--seed 1] [--fault
 * NAME:SEVERITY@S] [--fixed] [--stored KG_PER_S] [--config FILE] [--csv FILE]
 *
 * With --stored only minutes count in which condenser and tank together truly take up or give at least so much liquid.
 * With --fixed each sensor keeps one offset for the whole run, as on a site; without it offsets are drawn anew each
 * minute, which is what a statement about coverage needs. Prints, per metric: minutes compared, mean and spread of z =
 * (found - true) / (U/2), share within |z| <= 2, median expanded uncertainty, mean difference.
 */
import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { parseArgs, promisify } from 'node:util';
import { toSi, type UnitName } from '../../agent/base/units.ts';
import { pointDefinition } from '../../agent/points/dictionary.ts';
import { nextRunning, RUNNING_START, runningRule } from '../../agent/points/running.ts';
import type { PointValue } from '../../agent/points/types.ts';

const run = promisify(execFile);
const MAIN = new URL('../../agent/main.ts', import.meta.url).pathname;
const SITE = new URL('../../config/kestrel-quay.yaml', import.meta.url).pathname;

interface Truth {
  readonly t: string;
  readonly points: Readonly<Record<string, number | null>>;
  readonly metrics: Readonly<Record<string, number | null>>;
}

interface Found {
  readonly error?: { readonly code: string; readonly message: string };
  readonly metrics?: Readonly<
    Record<string, { readonly value: number | null; readonly uncertainty: number | null; readonly unit: string }>
  >;
}

/** Which of the plant's minutes are steady, by the agent's rule on true points. */
function steadyMinutes(truths: readonly Truth[]): boolean[] {
  const rule = runningRule.parse({});
  let state = RUNNING_START;
  return truths.map((truth) => {
    const points = Object.fromEntries(
      Object.entries(truth.points).map(([name, value]) => [name, known(name, value)] as const),
    );
    state = nextRunning(state, { snapshot: { time: Date.parse(truth.t), points }, rule, interval_s: 60 });
    return state.steady;
  });
}

function known(name: string, value: number | null): PointValue {
  const { unit } = pointDefinition(name);
  const si = value === null ? null : toSi(value, unit as UnitName);
  return { value: si, u: 0, quality: si === null ? 'bad' : 'good', reason: null, age_s: 0, spread: null, n: 1 };
}

function ndjson<T>(text: string): T[] {
  return text
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line) as T);
}

interface Row {
  readonly metric: string;
  readonly unit: string;
  readonly z: number[];
  readonly U: number[];
  readonly difference: number[];
  readonly truth: number[];
}

export interface Accuracy {
  readonly minutes: number;
  readonly steady: number;
  readonly rows: readonly Row[];
  /** Metrics of the plant's books that the agent gave no figure for in any steady minute. */
  readonly notGiven: readonly string[];
  /** What the verb answered to lines it could not take, and how often. */
  readonly refused: ReadonlyMap<string, number>;
}

export async function accuracy(options: {
  readonly chiller: string;
  readonly minutes: number;
  readonly seed: number;
  readonly faults: readonly string[];
  readonly fixed: boolean;
  /** Least change of what the vessels hold in a minute that counts, kg/s; 0: every minute. */
  readonly stored: number;
  /** Site file that the solver gets. */
  readonly config: string;
}): Promise<Accuracy> {
  const folder = await mkdtemp(path.join(tmpdir(), 'tonhour-accuracy-'));
  try {
    const [truthFile, recordFile] = [path.join(folder, 'truth.ndjson'), path.join(folder, 'record.ndjson')];
    const faults = options.faults.flatMap((fault) => ['--fault', fault]);
    const duration = String(60 * options.minutes);
    const args = ['--chiller', options.chiller, '--seed', String(options.seed), '--start', '2026-07-01T00:00:00Z'];
    const files = ['--truth', truthFile, '--record', recordFile, ...(options.fixed ? [] : ['--redraw'])];
    await run(process.execPath, [MAIN, 'plant', ...args, '--duration', duration, ...files, ...faults]);
    const solving = run(process.execPath, [MAIN, 'solve', '--config', options.config, '--chiller', options.chiller], {
      maxBuffer: 2 ** 31,
    });
    solving.child.stdin?.end(await readFile(recordFile));
    // Exit code 1 says that some lines could not be answered; those are counted below.
    const { stdout } = await solving.catch((failed: { stdout: string }) => failed);
    return compare(ndjson<Truth>(await readFile(truthFile, 'utf8')), ndjson<Found>(stdout), options.stored);
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

const STORED = ['condenser', 'flash_tank'].map((vessel) => `${vessel}.storage_mass_flow`);

function moves({ metrics }: Truth, least: number): boolean {
  return STORED.reduce((sum, name) => sum + Math.abs(metrics[name] ?? 0), 0) >= least;
}

function compare(truths: readonly Truth[], found: readonly Found[], stored: number): Accuracy {
  if (truths.length !== found.length) throw new Error(`${truths.length} true minutes, ${found.length} solved ones`);
  const steady = steadyMinutes(truths);
  const rows = new Map<string, Row>();
  const names = new Set<string>();
  const refused = new Map<string, number>();
  for (const [i, truth] of truths.entries()) {
    const error = found[i]?.error?.message;
    if (error !== undefined) refused.set(error, (refused.get(error) ?? 0) + 1);
    if (!steady[i] || !moves(truth, stored)) continue;
    for (const [metric, value] of Object.entries(truth.metrics)) {
      if (value === null) continue;
      names.add(metric);
      const figure = found[i]?.metrics?.[metric];
      if (figure === undefined || figure.value === null || figure.uncertainty === null || figure.uncertainty === 0)
        continue;
      const row = rows.get(metric) ?? { metric, unit: figure.unit, z: [], U: [], difference: [], truth: [] };
      rows.set(metric, row);
      row.z.push((figure.value - value) / (figure.uncertainty / 2));
      row.U.push(figure.uncertainty);
      row.difference.push(figure.value - value);
      row.truth.push(value);
    }
  }
  const notGiven = [...names].filter((name) => !rows.has(name));
  const counted = truths.filter((truth, i) => steady[i] && moves(truth, stored)).length;
  return { minutes: truths.length, steady: counted, rows: [...rows.values()], notGiven, refused };
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const spread = (values: readonly number[]): number => Math.sqrt(mean(values.map((v) => (v - mean(values)) ** 2)));
const median = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1] as number;

export function summary({ metric, unit, z, U, difference, truth }: Row) {
  return {
    metric,
    minutes: z.length,
    mean_z: mean(z),
    spread_z: spread(z),
    within_2: z.filter((each) => Math.abs(each) <= 2).length / z.length,
    median_U: median(U),
    mean_difference: mean(difference),
    mean_true: mean(truth),
    unit,
  };
}

function table(result: Accuracy): string {
  const head = ['metric', 'minutes', 'mean z', 'spread z', '|z|<=2', 'median U', 'mean diff', 'unit'];
  const body = result.rows
    .map(summary)
    .map((s) => [
      s.metric,
      String(s.minutes),
      s.mean_z.toFixed(2),
      s.spread_z.toFixed(2),
      `${(100 * s.within_2).toFixed(1)} %`,
      s.median_U.toPrecision(3),
      s.mean_difference.toPrecision(2),
      s.unit,
    ]);
  const width = head.map((_, c) => Math.max(...[head, ...body].map((row) => (row[c] as string).length)));
  const lines = [head, ...body].map((row) =>
    row.map((cell, c) => (c === 0 ? cell.padEnd(width[c] as number) : cell.padStart(width[c] as number))).join('  '),
  );
  return [
    ...lines,
    '',
    `${result.steady} steady of ${result.minutes} minutes`,
    `no figure for: ${result.notGiven.join(', ') || 'none'}`,
  ].join('\n');
}

if (import.meta.main) {
  const { values } = parseArgs({
    options: {
      chiller: { type: 'string', default: 'CH-1' },
      minutes: { type: 'string', default: '2880' },
      seed: { type: 'string', default: '1' },
      fault: { type: 'string', multiple: true, default: [] },
      fixed: { type: 'boolean', default: false },
      stored: { type: 'string', default: '0' },
      config: { type: 'string', default: SITE },
      csv: { type: 'string' },
    },
  });
  const result = await accuracy({
    chiller: values.chiller,
    minutes: Number(values.minutes),
    seed: Number(values.seed),
    faults: values.fault,
    fixed: values.fixed,
    stored: Number(values.stored),
    config: values.config,
  });
  process.stdout.write(`${table(result)}\n`);
  if (values.csv !== undefined) {
    const rows = result.rows.map(summary);
    const keys = Object.keys(rows[0] ?? {}) as (keyof (typeof rows)[number])[];
    await writeFile(
      values.csv,
      `${[keys.join(','), ...rows.map((row) => keys.map((key) => row[key]).join(','))].join('\n')}\n`,
    );
  }
}
