/**
 * Time-series stores as Debian ships them, each in a folder of its own on a free port: victoria-metrics for writes of
 * v2, influxdb 1.6 for writes of v1. Started as programs: no service of the machine is touched.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { expect } from 'vitest';
import type { InfluxWrite } from '../../../agent/sinks/influx-options.ts';
import { freePort } from '../mqtt/broker.ts';

/** One stored value, as read back by the store's own query interface. */
export interface Stored {
  /** ms since the epoch. */
  readonly time: number;
  /** Name and tags in one text, so that two series never fall together. */
  readonly series: string;
  readonly value: number;
}

export interface StoreServer {
  readonly url: string;
  readonly port: number;
  /** How the agent is to write to it, with a right login. */
  readonly write: InfluxWrite;
  /** Every value whose series begins with `name`, in order of time; identical writes count once. */
  read(name: string): Promise<readonly Stored[]>;
  /** Ends it; what it stored stays. */
  down(): Promise<void>;
  /** Starts it anew on the same port and folder. */
  up(): Promise<void>;
  /** Ends it and removes what it stored. */
  stop(): Promise<void>;
}

const env = { ...process.env, PATH: `${process.env['PATH']}:/usr/sbin` };

interface Program {
  readonly command: string;
  readonly args: readonly string[];
  readonly ready: string;
}

async function launch({ command, args, ready }: Program): Promise<ChildProcess> {
  const child = spawn(command, args, { stdio: 'ignore', env });
  await once(child, 'spawn');
  for (;;) {
    const answer = await fetch(ready).catch(() => null);
    if (answer?.ok === true) return child;
    expect(child.exitCode, `${command} runs`).toBeNull();
    await pause(50);
  }
}

async function end(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  child.kill('SIGTERM');
  await once(child, 'exit');
}

async function served(
  program: Program,
  folder: string,
  rest: Omit<StoreServer, 'down' | 'up' | 'stop'>,
): Promise<StoreServer> {
  let child = await launch(program);
  return {
    ...rest,
    down: () => end(child),
    up: async () => {
      child = await launch(program);
    },
    stop: async () => {
      await end(child);
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

async function textOf(url: string, init: RequestInit = {}): Promise<string> {
  const answer = await fetch(url, init);
  const text = await answer.text();
  if (!answer.ok) throw new Error(`${url}: ${answer.status} ${text}`);
  return text;
}

/** Takes lines at `/api/v2/write`, and asks nobody who they are. */
export async function startVictoria(): Promise<StoreServer> {
  const folder = mkdtempSync(path.join(tmpdir(), 'victoria-'));
  const port = await freePort();
  const url = `http://127.0.0.1:${port}`;
  const args = [
    `-storageDataPath=${folder}/data`,
    `-httpListenAddr=127.0.0.1:${port}`,
    '-retentionPeriod=100y',
    // Identical points of one series are one: what makes a write that is sent twice the same as once.
    '-dedup.minScrapeInterval=1ms',
  ];
  const read = async (name: string): Promise<readonly Stored[]> => {
    await textOf(`${url}/internal/force_flush`);
    const match = encodeURIComponent(`{__name__=~"${name}.*"}`);
    const lines = (await textOf(`${url}/api/v1/export?reduce_mem_usage=0&match[]=${match}`)).trim().split('\n');
    const found = lines.filter(Boolean).flatMap((line) => {
      const { metric, values, timestamps } = JSON.parse(line) as VictoriaLine;
      const { __name__: named = '', db: _, ...tags } = metric;
      return timestamps.map((time, i) => ({ time, series: seriesOf(named, tags), value: values[i] as number }));
    });
    return inOrder(found);
  };
  const program = { command: 'victoria-metrics', args, ready: `${url}/health` };
  const write: InfluxWrite = { api: 'v2', bucket: 'plant', organisation: null, token: null };
  return served(program, folder, { url, port, write, read });
}

interface VictoriaLine {
  readonly metric: Readonly<Record<string, string>>;
  readonly values: readonly number[];
  readonly timestamps: readonly number[];
}

const USER = { username: 'agent', password: 'right horse' };

/** Takes lines at `/write`, with a login. */
export async function startInflux(): Promise<StoreServer> {
  const folder = mkdtempSync(path.join(tmpdir(), 'influx-'));
  const [port, inner] = [await freePort(), await freePort()];
  const url = `http://127.0.0.1:${port}`;
  writeFileSync(
    path.join(folder, 'influxdb.conf'),
    [
      'reporting-disabled = true',
      `bind-address = "127.0.0.1:${inner}"`,
      `[meta]\n  dir = "${folder}/meta"`,
      `[data]\n  dir = "${folder}/data"\n  wal-dir = "${folder}/wal"\n  query-log-enabled = false`,
      '[monitor]\n  store-enabled = false',
      `[http]\n  bind-address = "127.0.0.1:${port}"\n  auth-enabled = true\n  log-enabled = false`,
    ].join('\n'),
  );
  const authorization = `Basic ${Buffer.from(`${USER.username}:${USER.password}`).toString('base64')}`;
  const ask = (q: string): Promise<string> =>
    textOf(`${url}/query?db=plant&epoch=ms`, {
      method: 'POST',
      headers: { authorization },
      body: new URLSearchParams({ q }),
    });
  const read = async (name: string): Promise<readonly Stored[]> =>
    inOrder(valuesOf(JSON.parse(await ask(`SELECT * FROM /^${name}/ GROUP BY *`)) as InfluxAnswer));
  const program = { command: 'influxd', args: ['-config', path.join(folder, 'influxdb.conf')], ready: `${url}/ping` };
  const write: InfluxWrite = { api: 'v1', database: 'plant', retention_policy: null, login: USER };
  const server = await served(program, folder, { url, port, write, read });
  await ask(`CREATE USER ${USER.username} WITH PASSWORD '${USER.password}' WITH ALL PRIVILEGES`);
  await ask('CREATE DATABASE plant');
  return server;
}

interface InfluxAnswer {
  readonly results: readonly {
    readonly series?: readonly {
      readonly name: string;
      readonly tags: Readonly<Record<string, string>>;
      readonly columns: readonly string[];
      readonly values: readonly (readonly (number | null)[])[];
    }[];
  }[];
}

/** One value for each field, named as victoria-metrics names it: `<measurement>_<field>`. */
function valuesOf({ results }: InfluxAnswer): Stored[] {
  return (results[0]?.series ?? []).flatMap(({ name, tags, columns, values }) =>
    values.flatMap((row) =>
      row.flatMap((value, i) =>
        i === 0 || value === null
          ? []
          : [{ time: Number(row[0]), series: seriesOf(`${name}_${columns[i]}`, tags), value }],
      ),
    ),
  );
}

function seriesOf(name: string, tags: Readonly<Record<string, string>>): string {
  const pairs = Object.entries(tags)
    .filter(([, value]) => value !== '')
    .sort(([a], [b]) => (a < b ? -1 : 1));
  return `${name}{${pairs.map(([key, value]) => `${key}=${value}`).join(',')}}`;
}

function inOrder(found: readonly Stored[]): readonly Stored[] {
  return [...found].sort((a, b) => a.time - b.time || (a.series < b.series ? -1 : 1));
}
