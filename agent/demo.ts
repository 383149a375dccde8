/**
 * The demo's surroundings: the emulated plant as a process of its own, and a broker in this one. Everything on
 * loopback, on free ports.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import type { Logger } from 'pino';
import { fail, ok, type Result } from './base/result.ts';
import { formatIssues, loadSite } from './config/load.ts';
import { startBroker } from './sinks/broker.ts';
import { type Site, withBacnetAddress, withModbusAddress, withPlaces } from './site/site.ts';

export interface Demo {
  readonly site: Site;
  /** Where each emulated controller is: chiller, bus, host:port. */
  readonly controllers: readonly { readonly chiller: string; readonly bus: Bus; readonly place: string }[];
  stop(): Promise<void>;
}

const SITE_FILE = fileURLToPath(new URL('../config/kestrel-quay.yaml', import.meta.url));
const MAIN = fileURLToPath(new URL('./main.ts', import.meta.url));
const HISTORY = fileURLToPath(new URL('../data/demo', import.meta.url));
const STOP_MS = 3000;

export async function startDemo({
  log,
  stop,
}: {
  readonly log: Logger;
  readonly stop: AbortSignal;
}): Promise<Result<Demo>> {
  const read = await loadSite(SITE_FILE, { env: {} });
  if (!read.ok) return fail('demo', `the demo's site file is broken:\n${formatIssues(read.fault)}`);
  const plants = await Promise.all(
    read.value.chillers.map(({ id, source }) =>
      startPlant(id, 'modbus' in source ? 'modbus' : 'bacnet', { log, stop }),
    ),
  );
  const started = plants.flatMap((plant) => (plant.ok ? [plant.value] : []));
  const failed = plants.find((plant) => !plant.ok);
  if (failed !== undefined) {
    await Promise.all(started.map(({ child }) => end(child)));
    return failed;
  }
  const broker = await startBroker();
  const { mqtt } = read.value;
  const placed = withPlaces(read.value, {
    history: { folder: HISTORY },
    mqtt: {
      prefix: mqtt?.prefix ?? 'tonhour',
      client_id: mqtt?.client_id ?? 'tonhour-demo',
      url: broker.url,
      username: null,
      password: null,
      ca: null,
      commands: true,
    },
  });
  return ok({
    site: started.reduce(moved, placed),
    controllers: started.map(({ chiller, bus, place }) => ({ chiller, bus, place })),
    stop: async () => {
      await Promise.all(started.map(({ child }) => end(child)));
      await broker.stop();
    },
  });
}

type Bus = 'modbus' | 'bacnet';
/** Each bus on an address of its own: a BACnet device is known by the address and port it answers from. */
const BIND: Readonly<Record<Bus, string>> = { modbus: '127.0.0.1:0', bacnet: '127.0.0.2:0' };

interface StartedPlant {
  readonly chiller: string;
  readonly bus: Bus;
  readonly place: string;
  readonly child: ChildProcess;
}

function moved(site: Site, { chiller, bus, place }: StartedPlant): Site {
  const [host = '', port = ''] = place.split(':');
  const at = { host, port: Number(port) };
  return bus === 'modbus' ? withModbusAddress(site, chiller, at) : withBacnetAddress(site, chiller, at);
}

async function startPlant(
  chiller: string,
  bus: Bus,
  { log, stop }: { readonly log: Logger; readonly stop: AbortSignal },
): Promise<Result<StartedPlant>> {
  // It ends with its standard input, so that it never outlives an agent that was killed; whenever one starts it, it
  // is a loaded afternoon there.
  const served = ['--chiller', chiller, `--${bus}`, BIND[bus]];
  const args = ['plant', ...served, '--seed', '1', '--hour', '14', '--until-eof'];
  // A group of its own: Ctrl-C reaches the agent alone, which ends the plant last, so that the end is not mistaken
  // for a lost controller.
  const child = spawn(process.execPath, [MAIN, ...args], { stdio: ['pipe', 'pipe', 'inherit'], detached: true });
  const lines = createInterface({ input: child.stdout });
  const first = await new Promise<string | null>((resolve) => {
    lines.once('line', resolve);
    child.once('exit', () => resolve(null));
    child.once('error', () => resolve(null));
    stop.addEventListener('abort', () => resolve(null), { once: true });
  });
  const place = first === null ? null : addressOf(first, bus);
  if (place === null) {
    await end(child);
    return fail('demo', `the emulated plant of ${chiller} did not start${first === null ? '' : `: ${first}`}`);
  }
  child.once('exit', (code, signal) => log.warn({ chiller, code, signal }, 'the emulated plant ended'));
  return ok({ chiller, bus, place, child });
}

function addressOf(line: string, bus: Bus): string | null {
  try {
    const place = (JSON.parse(line) as Partial<Record<Bus, unknown>>)[bus];
    return typeof place === 'string' ? place : null;
  } catch {
    return null;
  }
}

async function end(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  child.removeAllListeners('exit');
  const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()));
  child.kill('SIGTERM');
  const late = setTimeout(() => child.kill('SIGKILL'), STOP_MS);
  await ended;
  clearTimeout(late);
}
