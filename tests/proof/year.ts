/**
 * A year of reconciled minutes, solved as the agent solves one: every reading with an error of its stated uncertainty,
 * every figure with its own. Time on so many threads, processor time for one minute, and how many minutes had no
 * closed balances.
 *
 * node agent/launch.cjs --node tests/proof/year.ts [--minutes 525600] [--threads 2] [--set all] [--seed 20261127]
 */
import { once } from 'node:events';
import { parseArgs } from 'node:util';
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads';
import { must } from '../../agent/base/result.ts';
import { prepare } from '../../agent/cycle/solve.ts';
import { consistent, drawn, normal, only, SETS, snapshotOf } from './consistent.ts';

interface Part {
  readonly minutes: number;
  readonly set: string;
  readonly seed: number;
}

interface Solved {
  /** Figures with an uncertainty. */
  readonly figures: number;
  /** Minutes whose balances did not close. */
  readonly open: number;
  /** kW/ton, sum over the minutes that have it. */
  readonly kw_per_ton: number;
}

function solved({ minutes, set, seed }: Part): Solved {
  const truth = consistent();
  const points = only(truth.points, SETS[set] as readonly string[]);
  const solver = must(prepare(truth.parameters));
  const next = normal(seed);
  const sum = { figures: 0, open: 0, kw_per_ton: 0 };
  for (let minute = 0; minute < minutes; minute++) {
    const seen = drawn({ points, parameters: truth.parameters }, next);
    const { metrics, reconciliation } = solver.solve(snapshotOf(seen.points));
    for (const name in metrics) if (metrics[name]?.uncertainty != null) sum.figures += 1;
    if (reconciliation.problem !== null) sum.open += 1;
    sum.kw_per_ton += metrics['unit.kw_per_ton']?.value ?? 0;
  }
  return sum;
}

async function year(): Promise<void> {
  const { values } = parseArgs({
    options: {
      minutes: { type: 'string', default: '525600' },
      threads: { type: 'string', default: '2' },
      set: { type: 'string', default: 'all' },
      seed: { type: 'string', default: '20261127' },
    },
  });
  const [minutes, threads] = [Number(values.minutes), Number(values.threads)];
  const began = performance.now();
  const parts = await Promise.all(
    Array.from({ length: threads }, async (_, at): Promise<Solved> => {
      const share = Math.floor(minutes / threads) + (at < minutes % threads ? 1 : 0);
      const part: Part = { minutes: share, set: values.set, seed: Number(values.seed) + at };
      const [answer] = await once(new Worker(new URL(import.meta.url), { workerData: part }), 'message');
      return answer as Solved;
    }),
  );
  const seconds = (performance.now() - began) / 1000;
  const { user, system } = process.cpuUsage();
  const total = (of: keyof Solved): number => parts.reduce((sum, part) => sum + part[of], 0);
  process.stdout.write(
    `${minutes} minutes of set ${values.set} on ${threads} threads: ${seconds.toFixed(0)} s, ` +
      `${((user + system) / 1000 / minutes).toFixed(2)} ms of processor time each, ` +
      `${(total('figures') / minutes).toFixed(1)} figures with uncertainty, ` +
      `${total('open')} without closed balances, mean ${(total('kw_per_ton') / minutes).toFixed(4)} kW/ton\n`,
  );
}

if (!isMainThread) parentPort?.postMessage(solved(workerData as Part));
else await year();
