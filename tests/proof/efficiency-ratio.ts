/**
 * What the agent learns of the main compressor's efficiency at the flow that it would carry without economizer, against
 * the emulated plant's own books. The plant runs as a process of its own, a day as its controls have it and a day with
 * the economizer held off, with sensors that keep their offsets; the agent folds what they showed minute by minute.
 * True efficiencies at both flows and the same head come from the plant's books of those days and of others with the
 * economizer held off, by a polynomial of second degree through the true minutes nearest by.
 *
 * node agent/launch.cjs --node tests/proof/efficiency-ratio.ts [--chiller CH-1] [--seeds 6] [--days 2]
 *
 * Prints per seed: steady minutes with the economizer on, of which the ratio is learned; mean true and found ratio;
 * mean and spread of z = (found - true)/(U/2); share within |z| <= 2; how far the saving's bounds lie apart; share of
 * minutes whose true saving, by the true efficiency at the larger flow, lies within the bounds widened by their own
 * uncertainty.
 */
import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { parseArgs, promisify } from 'node:util';
import { must } from '../../agent/base/result.ts';
import { differenceToSi, toSi, type UnitName } from '../../agent/base/units.ts';
import { loadSite } from '../../agent/config/load.ts';
import { prepare } from '../../agent/cycle/solve.ts';
import { MINUTE_START, type MinuteRecord, minute } from '../../agent/minute.ts';
import type { PointValue, Snapshot } from '../../agent/points/types.ts';
import type { ChillerSite } from '../../agent/site/site.ts';

const run = promisify(execFile);
const MAIN = new URL('../../agent/main.ts', import.meta.url).pathname;
const SITE = new URL('../../config/kestrel-quay.yaml', import.meta.url).pathname;
const NO_COLUMNS = () => ({ times: new Float64Array(0), values: new Float64Array(0) });
const LINK = { state: 'connected', reason: null } as const;

export interface TrueMinute {
  readonly metrics: Readonly<Record<string, number | null>>;
}

/** The plant's days: what its sensors showed, and what was true. */
async function plantDays(options: {
  readonly chiller: string;
  readonly seed: number;
  readonly seconds: number;
  readonly faults: readonly string[];
}): Promise<{ readonly shown: readonly ShownMinute[]; readonly truths: readonly TrueMinute[] }> {
  const folder = await mkdtemp(path.join(tmpdir(), 'tonhour-ratio-'));
  try {
    const [truth, record] = [path.join(folder, 'truth.ndjson'), path.join(folder, 'record.ndjson')];
    const { chiller, seed, seconds, faults } = options;
    const args = ['--chiller', chiller, '--seed', String(seed), '--start', '2026-07-01T00:00:00Z'];
    const given = faults.flatMap((fault) => ['--fault', fault]);
    const files = ['--truth', truth, '--record', record];
    await run(process.execPath, [MAIN, 'plant', ...args, '--duration', String(seconds), ...files, ...given]);
    return { shown: lines(await readFile(record, 'utf8')), truths: lines(await readFile(truth, 'utf8')) };
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

export interface ShownMinute {
  readonly time: string;
  readonly points: Readonly<Record<string, { readonly value: number; readonly unit: UnitName; readonly u: number }>>;
}

function snapshotOf({ time, points }: ShownMinute, { points: mapped }: ChillerSite): Snapshot {
  const read = (name: string, { value, unit, u }: ShownMinute['points'][string]): PointValue => ({
    value: toSi(value, unit),
    u: differenceToSi(u, unit),
    u_barometer: mapped.find((point) => point.name === name)?.uncertainty.barometer ?? 0,
    quality: 'good',
    reason: null,
    age_s: 0,
    spread: null,
    n: 12,
  });
  return {
    time: Date.parse(time),
    points: Object.fromEntries(Object.entries(points).map(([name, point]) => [name, read(name, point)])),
  };
}

function lines<T>(text: string): T[] {
  return text
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line) as T);
}

/** Each minute as the agent makes it of what the sensors showed. */
export function folded(chiller: ChillerSite, shown: readonly ShownMinute[]): MinuteRecord[] {
  const solver = must(prepare(chiller.machine));
  let state = MINUTE_START;
  return shown.map((record) => {
    const snapshot = snapshotOf(record, chiller);
    const solution = solver.solve(snapshot, state.suspicion.suspects);
    const input = { snapshot, solution, link: LINK, columns: NO_COLUMNS, interval_s: 60 };
    const outcome = minute(state, input, chiller, 'tonhour/kestrel-quay');
    state = outcome.state;
    return outcome.record;
  });
}

export async function kestrelQuay(id: string): Promise<ChillerSite> {
  const read = await loadSite(SITE, { env: {} });
  if (!read.ok) throw new Error(JSON.stringify(read.fault));
  const chiller = read.value.chillers.find((each) => each.id === id);
  if (chiller === undefined) throw new Error(`no chiller ${id} in ${SITE}`);
  return chiller;
}

/** A true operating point: ln of suction flow and of isentropic head, efficiency, whether the economizer ran. */
interface TruePoint {
  readonly flow: number;
  readonly head: number;
  readonly efficiency: number;
  readonly economizing: boolean;
}

const NAMES = {
  'CH-1': 'main_compressor.isentropic_efficiency',
  'CH-2': 'main_compressor.polytropic_efficiency',
} as const;
export type Chiller = keyof typeof NAMES;

/** Of the plant's books; null where the machine stood or moved. */
function truePoint(chiller: Chiller, { metrics }: TrueMinute): TruePoint | null {
  const [flow, efficiency] = [metrics['main_compressor.suction_volume_flow'], metrics[NAMES[chiller]]];
  const ratio = metrics['main_compressor.pressure_ratio'];
  const head = metrics['main_compressor.isentropic_head'] ?? (ratio == null ? null : Math.log(ratio));
  if (flow == null || efficiency == null || head == null) return null;
  const economizing = metrics['economizer.saving_fraction'] != null;
  return { flow: Math.log(flow), head: Math.log(head), efficiency, economizing };
}

/** Minutes next to the place; in flow and head no farther than this. */
const NEAREST = 60;
const FAR = { flow: 0.04, head: 0.05 };

/** True efficiency at a place among true points, by a polynomial of second degree; null where none lie round it. */
function trueEfficiency(points: readonly TruePoint[], at: { flow: number; head: number }): number | null {
  const near = points
    .map((point) => ({ point, dx: (point.flow - at.flow) / FAR.flow, dy: (point.head - at.head) / FAR.head }))
    .map((each) => ({ ...each, far: Math.hypot(each.dx, each.dy) }))
    .filter(({ far }) => far < 1)
    .sort((a, b) => a.far - b.far)
    .slice(0, NEAREST);
  if (near.length < 12 || !near.some(({ dx }) => dx > -0.2) || !near.some(({ dx }) => dx < 0.2)) return null;
  const rows = near.map(({ dx, dy }) => [1, dx, dy, dx * dx, dx * dy, dy * dy]);
  const solved = leastSquares(
    rows,
    near.map(({ point }) => point.efficiency),
  );
  return solved[0] as number;
}

/** Normal equations with a trace of a ridge, by Gauss and Jordan: six unknowns of order one. */
function leastSquares(rows: readonly (readonly number[])[], values: readonly number[]): number[] {
  const size = rows[0]?.length ?? 0;
  const table = Array.from({ length: size }, (_, i) => [
    ...Array.from({ length: size }, (_, j) =>
      rows.reduce((sum, row) => sum + (row[i] as number) * (row[j] as number), i === j && i > 0 ? 1e-3 : 0),
    ),
    rows.reduce((sum, row, k) => sum + (row[i] as number) * (values[k] as number), 0),
  ]);
  for (let i = 0; i < size; i++) {
    const pivot = (table[i] as number[])[i] as number;
    table[i] = (table[i] as number[]).map((each) => each / pivot);
    for (let j = 0; j < size; j++) {
      if (j === i) continue;
      const times = (table[j] as number[])[i] as number;
      table[j] = (table[j] as number[]).map((each, k) => each - times * ((table[i] as number[])[k] as number));
    }
  }
  return table.map((row) => row[size] as number);
}

interface Compared {
  /** Found, true, k = 1 of the ratio without over with economizer. */
  readonly found: number;
  readonly truth: number;
  readonly u: number;
  readonly low: number;
  readonly high: number;
  /** Whether the true saving at the true efficiencies lies within the bounds, each with its own uncertainty. */
  readonly within: boolean;
}

/** Every steady minute whose ratio is learned and whose truth is known. */
export function compare(
  chiller: Chiller,
  {
    records,
    truths,
    more,
  }: { records: readonly MinuteRecord[]; truths: readonly TrueMinute[]; more: readonly TrueMinute[] },
): { readonly on: number; readonly learned: number; readonly compared: readonly Compared[] } {
  const points = [...truths, ...more].flatMap((truth) => truePoint(chiller, truth) ?? []);
  const without = points.filter(({ economizing }) => chiller === 'CH-1' || !economizing);
  let [on, learned] = [0, 0];
  const compared = records.flatMap((record, i): Compared[] => {
    const { metrics } = truths[i] as TrueMinute;
    const here = truePoint(chiller, truths[i] as TrueMinute);
    const [flow, saving] = [metrics['economizer.suction_volume_flow_without'], metrics['economizer.saving_fraction']];
    if (record.state !== 'steady' || here === null || flow == null || saving == null) return [];
    on += 1;
    const ratio = record.figures['economizer.efficiency_ratio'];
    if (ratio?.value == null || ratio.uncertainty === null) return [];
    learned += 1;
    const there = trueEfficiency(without, { flow: Math.log(flow), head: here.head });
    if (there === null) return [];
    const truth = there / here.efficiency;
    const [low, high] = ['low', 'high'].map((side) => record.figures[`economizer.saving_fraction_${side}`]);
    const least = (low?.value as number) - (low?.uncertainty as number);
    const most = (high?.value as number) + (high?.uncertainty as number);
    const real = 1 - (1 - saving) * truth;
    const bounds = { low: low?.value as number, high: high?.value as number };
    return [{ found: ratio.value, truth, u: ratio.uncertainty / 2, ...bounds, within: real >= least && real <= most }];
  });
  return { on, learned, compared };
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;

function told(compared: readonly Compared[]): string {
  if (compared.length === 0) return '-';
  const z = compared.map(({ found, truth, u }) => (found - truth) / u);
  const share = (of: (one: Compared, k: number) => boolean): string =>
    `${((100 * compared.filter(of).length) / compared.length).toFixed(1)} %`;
  return [
    `true ${mean(compared.map(({ truth }) => truth)).toFixed(4)}`,
    `found ${mean(compared.map(({ found }) => found)).toFixed(4)} +- ${(2 * mean(compared.map(({ u }) => u))).toFixed(4)}`,
    `z ${mean(z).toFixed(2)} (${Math.sqrt(mean(z.map((each) => (each - mean(z)) ** 2))).toFixed(2)})`,
    `within ${share((_, k) => Math.abs(z[k] as number) <= 2)}`,
    `bounds ${(100 * mean(compared.map(({ low, high }) => high - low))).toFixed(2)} points apart`,
    `true saving in them ${share(({ within }) => within)}`,
  ].join(', ');
}

if (import.meta.main) {
  const { values } = parseArgs({
    options: {
      chiller: { type: 'string', default: 'CH-1' },
      seeds: { type: 'string', default: '6' },
      days: { type: 'string', default: '2' },
    },
  });
  const chiller = values.chiller as Chiller;
  const [days, seeds] = [Number(values.days), Number(values.seeds)];
  const machine = await kestrelQuay(chiller);
  const seconds = 86_400 * days;
  const more: TrueMinute[] = [];
  for (const seed of [9001, 9002]) {
    const { truths } = await plantDays({ chiller, seed, seconds: 86_400, faults: ['economizer_compressor_off:1@0'] });
    more.push(...truths);
  }
  const all: Compared[] = [];
  for (let seed = 1; seed <= seeds; seed++) {
    // every other day the economizer is held off, as for a trial
    const faults = Array.from({ length: days }, (_, day) => day)
      .filter((day) => day % 2 === 1)
      .map((day) => `economizer_compressor_off:1@${86_400 * day}..${86_400 * (day + 1)}`);
    const { shown, truths } = await plantDays({ chiller, seed, seconds, faults });
    const { on, learned, compared } = compare(chiller, { records: folded(machine, shown), truths, more });
    all.push(...compared);
    process.stdout.write(
      `${chiller} seed ${seed}: ${on} steady minutes with the economizer, ${learned} learned, ${compared.length} compared: ${told(compared)}\n`,
    );
  }
  process.stdout.write(`${chiller}, all: ${told(all)}\n`);
}
