/**
 * The real parts around an agent under test: the emulated plant as its own process, a site of the example file placed
 * on free ports.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { pino } from 'pino';
import { Agent } from '../../../agent/agent.ts';
import { must } from '../../../agent/base/result.ts';
import { loadSite } from '../../../agent/config/load.ts';
import {
  type ChillerSite,
  type Site,
  withBacnetAddress,
  withModbusAddress,
  withPlaces,
} from '../../../agent/site/site.ts';
import { systemTimers } from '../../../agent/sources/timers.ts';

const MAIN = new URL('../../../agent/main.ts', import.meta.url).pathname;
const SITE_FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

export interface PlantProcess {
  readonly host: string;
  readonly port: number;
  readonly child: ChildProcess;
  stop(): Promise<void>;
}

export interface PlantWishes {
  /** Left out: CH-1 over Modbus TCP. */
  readonly chiller?: 'CH-1' | 'CH-2';
  readonly faults?: readonly string[];
  readonly speed?: number;
  /** Left out: a free one. */
  readonly port?: number;
}

/** Serves a chiller on its own bus and a free port; resolves when it listens. */
export async function startPlant({
  chiller = 'CH-1',
  faults = [],
  speed = 1,
  port = 0,
}: PlantWishes = {}): Promise<PlantProcess> {
  const bus = chiller === 'CH-1' ? ['--modbus', `127.0.0.1:${port}`] : ['--bacnet', `127.0.0.2:${port}`];
  const wished = ['--speed', String(speed), '--hour', '14', ...faults.flatMap((fault) => ['--fault', fault])];
  const child = spawn(process.execPath, [MAIN, 'plant', '--chiller', chiller, ...bus, ...wished], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const lines = createInterface({ input: child.stdout as NodeJS.ReadableStream });
  const ended = once(child, 'exit').then(([code]) => {
    throw new Error(`the plant ended with ${code} before it listened`);
  });
  const [line] = (await Promise.race([once(lines, 'line'), ended])) as [string];
  ended.catch(() => {});
  const places = JSON.parse(line) as { modbus?: string; bacnet?: string };
  const [host = '', listens = ''] = (places.modbus ?? places.bacnet ?? '').split(':');
  return {
    host,
    port: Number(listens),
    child,
    stop: async () => {
      if (child.exitCode !== null || child.signalCode !== null) return;
      child.kill('SIGTERM');
      await once(child, 'exit');
    },
  };
}

/** A folder of its own, and the way to be rid of it. */
export function temporaryFolder(): { readonly folder: string; readonly remove: () => void } {
  const folder = mkdtempSync(path.join(tmpdir(), 'tonhour-test-'));
  return { folder, remove: () => rmSync(folder, { recursive: true, force: true }) };
}

/**
 * The example site with one-second intervals and fast polling, on the given ports; a chiller without a port is left
 * out.
 */
export async function siteFor(places: {
  readonly modbusPort?: number;
  readonly bacnetPort?: number;
  readonly mqttUrl: string | null;
  readonly folder: string;
}): Promise<Site> {
  const read = await loadSite(SITE_FILE, { env: {} });
  if (!read.ok) throw new Error(JSON.stringify(read.fault));
  const mqtt = read.value.mqtt;
  if (mqtt === null) throw new Error('the example site publishes');
  let site = withPlaces(read.value, {
    interval_s: 1,
    history: { folder: places.folder },
    web: { host: '127.0.0.1', port: 0 },
    mqtt: places.mqttUrl === null ? null : { ...mqtt, url: places.mqttUrl, username: null, password: null },
  });
  if (places.modbusPort !== undefined)
    site = withModbusAddress(site, 'CH-1', { host: '127.0.0.1', port: places.modbusPort });
  if (places.bacnetPort !== undefined)
    site = withBacnetAddress(site, 'CH-2', { host: '127.0.0.2', port: places.bacnetPort });
  const quick = { poll_s: 0.5, fast_s: 0.5, timeout_ms: 500 };
  const chillers = site.chillers.flatMap((chiller): ChillerSite[] => {
    const { source } = chiller;
    if ('modbus' in source)
      return places.modbusPort === undefined
        ? []
        : [{ ...chiller, source: { modbus: { ...source.modbus, ...quick } } }];
    return places.bacnetPort === undefined ? [] : [{ ...chiller, source: { bacnet: { ...source.bacnet, ...quick } } }];
  });
  return { ...site, chillers };
}

/** The whole agent of a site in this process, on the real clock. */
export function agentFor(site: Site): Agent {
  return must(
    Agent.create({
      site,
      version: '0.0.0-test',
      demo: false,
      clock: { now: () => Date.now(), monotonic: () => performance.now() },
      timers: systemTimers,
      random: Math.random,
      log: pino({ level: 'silent' }),
      notifySocket: undefined,
      first_interval_s: 1,
    }),
  );
}
