/**
 * Goal: `status` says of a real agent what is true of it, and its exit code says whether that is healthy. Method:
 * agent, plant and broker are real; each is taken away in turn.
 */
import { mkdirSync, rmSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { afterEach, describe, expect, test, vi } from 'vitest';
import type { Agent } from '../../../agent/agent.ts';
import { command } from '../../../agent/commands/status.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { startBroker } from '../../../agent/sinks/broker.ts';
import { gapsOf, type StatusFigure } from '../../../agent/status.ts';
import { agentFor, startPlant, temporaryFolder } from '../agent/harness.ts';
import { freePort, writeSiteFile } from './site-file.ts';

const WAIT = { timeout: 60_000, interval: 200 };
const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

async function run(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const [out, err] = [new PassThrough(), new PassThrough()];
  const code = await command.run(args, { in: Readable.from([]), out, err, stop: new AbortController().signal });
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

async function asked(config: string): Promise<{ readonly code: number; readonly status: StatusFigure }> {
  const { code, out } = await run('--config', config, '--json');
  return { code, status: JSON.parse(out) as StatusFigure };
}

async function started(config: string): Promise<Agent> {
  const site = await loadSite(config, { env: {} });
  if (!site.ok) throw new Error(JSON.stringify(site.fault));
  const agent = agentFor(site.value);
  endings.push(() => agent.stop());
  await agent.start();
  return agent;
}

async function rig() {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const plant = await startPlant();
  endings.push(() => plant.stop());
  const broker = await startBroker();
  endings.push(() => broker.stop());
  const webPort = await freePort();
  const config = writeSiteFile({ folder, webPort, modbusPort: plant.port, mqttUrl: broker.url });
  return { folder, plant, broker, webPort, config };
}

/** Asks until it is so: links and sinks come up in their own time. */
async function until(config: string, so: (status: StatusFigure) => boolean) {
  let last = await asked(config);
  await vi.waitUntil(async () => {
    last = await asked(config);
    return so(last.status);
  }, WAIT);
  return last;
}

test('a sound agent is healthy; without its broker, its controller or itself it is not, and the fault is named', async () => {
  const { plant, broker, webPort, config } = await rig();
  const before = await asked(config);
  expect(before.code).toBe(1);
  expect(before.status.faults.join('\n')).toMatch(/no agent answers at http:\/\/127\.0\.0\.1:\d+ \(ECONNREFUSED\)/);
  expect(before.status.faults.join('\n')).toContain('history.sqlite is not there');

  const agent = await started(config);
  const sound = await until(config, ({ healthy, chillers }) => healthy && (chillers[0]?.sequence ?? 0) >= 3);
  expect(sound.code).toBe(0);
  expect(sound.status).toMatchObject({
    site: 'kestrel-quay',
    running: true,
    url: `http://127.0.0.1:${webPort}`,
    version: '0.0.0-test',
    faults: [],
    chillers: [{ chiller: 'CH-1', link: { state: 'connected' }, gaps: { minutes_missing: expect.any(Number) } }],
    sinks: [{ sink: 'mqtt', state: 'connected' }],
  });
  expect(sound.status.chillers[0]?.age_s).toBeLessThan(15);
  expect(sound.status.chillers[0]?.points_read).toBe(sound.status.chillers[0]?.points_mapped);
  const text = await run('--config', config);
  expect(text.out).toMatch(
    /^Kestrel Quay \(kestrel-quay\), 20\d\d-\d\d-\d\d \d\d:\d\d: healthy\n {2}agent {8}running, /,
  );
  expect(text.out).toMatch(
    /\n {2}CH-1 {9}minute \d+ ended .*, controller connected since .*, 4\d of 4\d points read\n/,
  );
  expect(text.out).toMatch(/\n {2}to mqtt {6}connected, /);

  await broker.stop();
  const cut = await until(config, ({ sinks }) => sinks[0]?.state === 'lost' && (sinks[0]?.waiting ?? 0) > 2);
  expect(cut.code).toBe(1);
  expect(cut.status.faults).toEqual([expect.stringMatching(/^sink mqtt: lost, \d+ messages wait/)]);

  await plant.stop();
  const lost = await until(config, ({ chillers }) => chillers[0]?.link?.state === 'lost');
  expect(lost.code).toBe(1);
  expect(lost.status.faults.join('\n')).toContain('CH-1: controller lost: ');

  await agent.stop();
  const stopped = await asked(config);
  expect(stopped.code).toBe(1);
  expect(stopped.status).toMatchObject({ running: false, url: null, version: null });
  expect(stopped.status.chillers[0]).toMatchObject({ link: null, points_read: null });
  expect(stopped.status.chillers[0]?.sequence).toBeGreaterThanOrEqual(lost.status.chillers[0]?.sequence ?? 0);
  expect(stopped.status.sinks[0]).toMatchObject({ sink: 'mqtt', state: null });
  expect(stopped.status.sinks[0]?.waiting).toBeGreaterThanOrEqual(cut.status.sinks[0]?.waiting ?? 0);
  const told = await run('--config', config);
  expect(told.out).toContain('NOT HEALTHY');
  expect(told.out).toContain('not running; what follows is from its history');
});

test('another agent at that address is not taken for this one', async () => {
  const { folder, plant, webPort, config } = await rig();
  await started(config);
  const other = temporaryFolder();
  endings.push(other.remove);
  const wishes = { folder: other.folder, webPort, modbusPort: plant.port, mqttUrl: null };
  const elsewhere = writeSiteFile({ ...wishes, more: [[['site', 'id'], 'lantern-yard']] });
  const { code, status } = await asked(elsewhere);
  expect([code, status.running]).toEqual([1, false]);
  expect(status.faults[0]).toContain('is not the agent of lantern-yard, but of kestrel-quay');
  expect(folder).not.toBe(other.folder);
});

test('an agent that takes any free port cannot be found, and the key is named', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const config = writeSiteFile({ folder, webPort: 0, modbusPort: 1, mqttUrl: null });
  const { code, status } = await asked(config);
  expect(code).toBe(1);
  expect(status.faults[0]).toContain('web.port: 0');
});

test('a hosted Node-RED is said to answer, and that it does not run is a fault', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const plant = await startPlant();
  endings.push(() => plant.stop());
  const [webPort, port] = [await freePort(), await freePort()];
  // Stands in for Node-RED: answers, until its file is gone. The real one: tests/interop/node-red.
  const place = path.join(folder, 'flows', 'node_modules', 'node-red');
  mkdirSync(place, { recursive: true });
  writeFileSync(path.join(place, 'package.json'), '{"name":"node-red","version":"5.0.0"}');
  writeFileSync(
    path.join(place, 'red.js'),
    `const server = require('node:http').createServer((_, answer) => answer.end('here'));
     server.listen(JSON.parse(process.env.TONHOUR_NODE_RED).port, '127.0.0.1');
     setInterval(() => require('node:fs').existsSync(__filename) || process.exit(7), 100);`,
  );
  const node_red = {
    folder: path.join(folder, 'flows'),
    port,
    username: 'engineer',
    password_hash: `$2b$08$${'h'.repeat(53)}`,
  };
  const wishes = { folder, webPort, modbusPort: plant.port, mqttUrl: null };
  const config = writeSiteFile({ ...wishes, more: [[['node_red'], node_red]] });
  expect((await asked(config)).status.node_red).toEqual({ state: null, starts: null, failures: null });
  const agent = await started(config);
  const sound = await until(config, ({ healthy, node_red: found }) => healthy && found?.state === 'answering');
  expect([sound.code, sound.status.node_red]).toEqual([0, { state: 'answering', starts: 1, failures: 0 }]);
  expect((await run('--config', config)).out).toMatch(/\n {2}Node-RED {5}answering, starts 1, failures 0\n/);

  rmSync(path.join(place, 'red.js'));
  const ended = await until(config, ({ node_red: found }) => found?.state === 'ended');
  expect(ended.code).toBe(1);
  expect(ended.status.faults).toEqual([
    expect.stringMatching(/^Node-RED does not run, .*: [1-9]\d*; the log says why$/),
  ]);
  await agent.stop();
});

describe('minutes missing', () => {
  const ends = (...minutes: number[]) => minutes.map((minute) => ({ time: 60_000 * minute }));

  test('between the first and the last that are there; the longest is named', () => {
    expect(gapsOf(ends(1, 2, 3), 60)).toEqual({ minutes_missing: 0, longest: null });
    expect(gapsOf(ends(1, 2, 5, 6, 16), 60)).toEqual({
      minutes_missing: 11,
      longest: { from: '1970-01-01T00:06:00Z', to: '1970-01-01T00:16:00Z', minutes: 9 },
    });
    expect(gapsOf([], 60)).toEqual({ minutes_missing: 0, longest: null });
  });

  test('a first minute that was cut short is none that is missing', () => {
    expect(gapsOf([{ time: 10_000 }, ...ends(1, 2)], 60).minutes_missing).toBe(0);
  });
});
