// Goal: a replay computes what the live agent computed. Method: an emulated machine, a process of its own, is polled
// over its real bus by the agent's own source; every reading goes both into the watch of a live agent and, as a line of
// text, into an export. What the watch left in its outbox for the broker, and what the replay wrote, must be the same.
import { join } from 'node:path';
import { pino } from 'pino';
import { expect, onTestFinished, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { rfc3339 } from '../../../agent/base/time.ts';
import { openHistory } from '../../../agent/history/history.ts';
import type { RawSample } from '../../../agent/points/types.ts';
import type { ChillerSite } from '../../../agent/site/site.ts';
import { systemTimers } from '../../../agent/sources/timers.ts';
import { sourcesOf } from '../../../agent/sources-of.ts';
import { ChillerWatch } from '../../../agent/watch.ts';
import { siteFor, startPlant, temporaryFolder } from '../agent/harness.ts';
import { replayed } from './run.ts';

const INTERVALS = 12;
const clock = { now: () => Date.now(), monotonic: () => performance.now() };

test.each(['CH-1', 'CH-2'] as const)('%s: the minutes of a replay are those of the live agent', async (id) => {
  const { folder, remove } = temporaryFolder();
  onTestFinished(remove);
  const plant = await startPlant({ chiller: id });
  onTestFinished(() => plant.stop());
  const port = id === 'CH-1' ? { modbusPort: plant.port } : { bacnetPort: plant.port };
  const site = await siteFor({ ...port, mqttUrl: 'mqtt://127.0.0.1:1', folder: join(folder, 'history') });
  const chiller = site.chillers[0] as ChillerSite;
  const history = must(openHistory({ folder: site.history.folder }));
  onTestFinished(() => history.close());
  const root = `${site.mqtt?.prefix}/${site.id}`;
  const watch = must(ChillerWatch.open({ site, chiller, history, clock, root }));

  const samples: RawSample[] = [];
  const source = must(
    sourcesOf({ clock, timers: systemTimers, random: Math.random, log: pino({ level: 'silent' }) })(chiller),
  );
  onTestFinished(() => source.stop());
  await source.start({ record: (sample) => samples.push(sample) });
  const all = (): boolean =>
    chiller.points.every(({ name }) => samples.some((sample) => sample.point === name && sample.raw !== null));
  await expect.poll(all, { timeout: 60_000 }).toBe(true);
  // From a moment when every point is read: the export begins where the watch does.
  const start = Math.ceil(Date.now() / 1000) * 1000;
  const end = start + 1000 * INTERVALS;
  await expect.poll(() => Math.max(...samples.map(({ time }) => time)) > end, { timeout: 60_000 }).toBe(true);
  await source.stop();
  const within = samples.filter(({ time }) => time > start && time <= end);
  // A state is reported on change alone: the last one before the start stands at the start.
  const silent = chiller.points.filter(({ name }) => !within.some(({ point }) => point === name));
  const before = (name: string): RawSample | undefined =>
    samples.findLast(({ point, time, raw }) => point === name && time <= start && raw !== null);
  const carried = silent.flatMap(({ name }) => before(name) ?? []).map((sample) => ({ ...sample, time: start + 1 }));
  const kept = [...carried, ...within];

  for (const sample of kept) watch.samples.record(sample);
  const link = { state: 'connected', since: start, reason: null, counters: {} } as const;
  for (let to = start + 1000; to <= end; to += 1000) must(watch.fold({ from: to - 1000, to, missed: 0 }, link));
  const sent = history.outbox.oldest('mqtt', 1000);

  const run = await replayed(folder, { table: exported(kept, chiller), map: mapOf(chiller) });
  expect([run.code, run.err]).toEqual([0, '']);
  const metrics = sent.filter(({ address }) => address === `${root}/${id}/metrics`);
  const valves = sent.filter(({ address }) => address === `${root}/${id}/valves`);
  expect(metrics.length).toBe(INTERVALS);
  expect(run.minutes.map(({ loops: _, chiller: __, ...rest }) => rest)).toEqual(
    metrics.map(({ payload }) => JSON.parse(payload)),
  );
  expect(run.minutes.map(({ loops }) => loops)).toEqual(valves.map(({ payload }) => JSON.parse(payload).loops));
  const capacities = run.minutes.map(({ values }) => values['unit.capacity']);
  expect(capacities.every((value) => typeof value === 'number' && value > 1000)).toBe(true);
});

/** What a person exports: values in the unit, not registers. */
function exported(samples: readonly RawSample[], { points }: ChillerSite): string {
  const lines = samples.map(({ point, time, raw }) => {
    const spec = points.find(({ name }) => name === point);
    if (spec === undefined || raw === null) throw new Error(`${point} was read`);
    return `${rfc3339(time)},${point},${raw * spec.scale + spec.offset}`;
  });
  return `t,point,value\n${lines.join('\n')}\n`;
}

function mapOf({ id, points }: ChillerSite): string {
  const entries = points.map(
    ({ name, unit, reference, frozen_s, stale_s }) =>
      `      ${name}: { column: "${name}", unit: "${unit}", hold_s: ${stale_s}, frozen_s: ${frozen_s}` +
      `${reference === 'absolute' ? '' : `, reference: ${reference}`} }`,
  );
  return [
    'version: 1',
    'file: { form: long }',
    'time: { column: t }',
    'long: { name: point, value: value }',
    'interval_s: 1',
    'chillers:',
    `  ${id}:`,
    '    points:',
    ...entries,
  ].join('\n');
}
