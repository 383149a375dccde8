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
import { type Site, withModbusAddress, withPlaces } from './site/site.ts';

export interface Demo {
  readonly site: Site;
  /** host:port of the emulated controller. */
  readonly modbus: string;
  stop(): Promise<void>;
}

const CHILLER = 'CH-1';
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
  const plant = await startPlant(log, stop);
  if (!plant.ok) return plant;
  const { modbus, child } = plant.value;
  const broker = await startBroker();
  const [host = '', port = ''] = modbus.split(':');
  const { mqtt } = read.value;
  const placed = withPlaces(read.value, {
    history: { folder: HISTORY },
    mqtt: {
      prefix: mqtt?.prefix ?? 'tonhour',
      client_id: mqtt?.client_id ?? 'tonhour-demo',
      url: broker.url,
      username: null,
      password: null,
    },
  });
  return ok({
    site: withModbusAddress(placed, CHILLER, { host, port: Number(port) }),
    modbus,
    stop: async () => {
      await end(child);
      await broker.stop();
    },
  });
}

async function startPlant(
  log: Logger,
  stop: AbortSignal,
): Promise<Result<{ readonly modbus: string; readonly child: ChildProcess }>> {
  // It ends with its standard input, so that it never outlives an agent that was killed; whenever one starts it, it
  // is a loaded afternoon there.
  const args = ['plant', '--chiller', CHILLER, '--modbus', '127.0.0.1:0', '--seed', '1', '--hour', '14', '--until-eof'];
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
  const modbus = first === null ? null : addressOf(first);
  if (modbus === null) {
    await end(child);
    return fail('demo', `the emulated plant did not start${first === null ? '' : `: ${first}`}`);
  }
  child.once('exit', (code, signal) => log.warn({ code, signal }, 'the emulated plant ended'));
  return ok({ modbus, child });
}

function addressOf(line: string): string | null {
  try {
    const { modbus } = JSON.parse(line) as { modbus?: unknown };
    return typeof modbus === 'string' ? modbus : null;
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
