/**
 * What a whole minute costs: snapshot of the samples, solution with uncertainties, fold, one transaction. By number of
 * mapped points, beside the solution alone in the same run; and the resident memory of an agent process.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { prepare } from '../../../agent/cycle/solve.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { takeSnapshot } from '../../../agent/points/snapshot.ts';
import type { SourceStatus } from '../../../agent/points/types.ts';
import type { ChillerSite } from '../../../agent/site/site.ts';
import { ChillerWatch } from '../../../agent/watch.ts';
import { siteFor, startPlant, temporaryFolder } from '../../contract/agent/harness.ts';

const VICTIM = new URL('../../fault/agent/victim.ts', import.meta.url).pathname;
const LINK: SourceStatus = { state: 'connected', since: 0, reason: null, counters: {} };
const START = 1_800_000_000_000;
const MINUTES = 200;
const SAMPLES_A_MINUTE = 12;

/** Milliseconds a minute over many, and of the solution alone on the same snapshots. */
async function cost(count: number): Promise<{ minute_ms: number; solve_ms: number }> {
  const { folder, remove } = temporaryFolder();
  const site = await siteFor({ modbusPort: 1, mqttUrl: null, folder });
  const whole = site.chillers[0] as ChillerSite;
  const chiller = { ...whole, points: whole.points.slice(0, count) };
  const history = must(openHistory({ folder }));
  const clock = { now: () => START, monotonic: () => performance.now() };
  const watch = must(ChillerWatch.open({ site, chiller, history, clock, root: 'bench/site' }));
  const solver = must(prepare(chiller.machine));
  let [minute_ms, solve_ms] = [0, 0];
  for (let i = 0; i < MINUTES; i += 1) {
    const from = START + i * 60_000;
    for (const { name, valid, scale, offset } of chiller.points) {
      for (let k = 1; k <= SAMPLES_A_MINUTE; k += 1) {
        const reading = valid[0] + (valid[1] - valid[0]) * (0.4 + 0.01 * Math.sin(i + k));
        watch.samples.record({ point: name, time: from + k * 5000, raw: (reading - offset) / scale });
      }
    }
    const interval = { from, to: from + 60_000, missed: 0 };
    const began = performance.now();
    must(watch.fold(interval, LINK));
    minute_ms += performance.now() - began;
    const samples = watch.samples.interval(from, interval.to);
    const snapshot = takeSnapshot({ specs: chiller.points, samples, to: interval.to, atmosphere: { local: 101_300 } });
    const solving = performance.now();
    solver.solve(snapshot);
    solve_ms += performance.now() - solving;
  }
  history.close();
  remove();
  return { minute_ms: minute_ms / MINUTES, solve_ms: solve_ms / MINUTES };
}

test('cost of a minute against the number of points', async () => {
  const rows = [];
  for (const points of [6, 12, 24, 46]) {
    const { minute_ms, solve_ms } = await cost(points);
    rows.push({ points, 'minute, ms': minute_ms.toFixed(2), 'solution alone, ms': solve_ms.toFixed(2) });
    expect(minute_ms).toBeGreaterThan(0);
  }
  console.table(rows);
});

test('resident memory of an agent process with one chiller', async () => {
  const plant = await startPlant();
  const { folder, remove } = temporaryFolder();
  const args = [VICTIM, String(plant.port), 'mqtt://127.0.0.1:1', folder];
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'ignore'] });
  const [url] = (await once(createInterface({ input: child.stdout }), 'line')) as [string];
  const figure = async (name: string): Promise<number> =>
    Number(new RegExp(`^${name}(?:\\{[^}]*\\})? (\\S+)$`, 'm').exec(await (await fetch(`${url}/metrics`)).text())?.[1]);
  await expect.poll(() => figure('tonhour_minutes_done_total'), { timeout: 60_000 }).toBeGreaterThanOrEqual(20);
  const resident = await figure('process_resident_memory_bytes');
  console.log(`resident after 20 minutes: ${(resident / 2 ** 20).toFixed(0)} MiB`);
  expect(resident).toBeGreaterThan(0);
  child.kill('SIGKILL');
  await once(child, 'exit');
  await plant.stop();
  remove();
});
