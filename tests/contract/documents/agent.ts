/**
 * The agent as a person starts it, over a real site file: emulated plant and agent as processes of their own, a broker
 * in this one.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { startBroker } from '../../../agent/sinks/broker.ts';

const ROOT = new URL('../../..', import.meta.url).pathname;

export interface RunningAgent {
  readonly page: string;
  readonly broker: string;
  stop(): Promise<void>;
}

function start(args: readonly string[]): ChildProcess {
  return spawn(process.execPath, [join(ROOT, 'agent/main.ts'), ...args], {
    cwd: ROOT,
    stdio: ['ignore', 'pipe', 'pipe'],
  });
}

/** The first line of standard output that matches; an end before that is an error with what was said. */
async function line(child: ChildProcess, pattern: RegExp): Promise<string> {
  let said = '';
  child.stderr?.on('data', (part) => {
    said = `${said}${part}`.slice(-4000);
  });
  if (child.stdout === null) throw new Error('no standard output');
  for await (const text of createInterface({ input: child.stdout })) {
    const [, found] = pattern.exec(text) ?? [];
    if (found !== undefined) return found;
    said += `${text}\n`;
  }
  throw new Error(`ended before ${pattern}: ${said}`);
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  await once(server, 'close');
  return typeof address === 'object' && address !== null ? address.port : 0;
}

/** The example site with its addresses replaced and an interval of a second. */
function siteFile(places: { folder: string; modbus: string; broker: string; web: number }): string {
  const [host, port] = places.modbus.split(':');
  const example = readFileSync(join(ROOT, 'config/kestrel-quay.yaml'), 'utf8');
  // One machine is enough for the documents.
  const text = example
    .slice(0, example.indexOf('\n  - id: CH-2'))
    .replace(/^interval_s: .*$/m, 'interval_s: 1')
    .replace(/url: mqtt:\S+/, `url: ${places.broker}`)
    .replace(/folder: \S+/, `folder: ${join(places.folder, 'history')}`)
    .replace(/port: 8047/, `port: ${places.web}`)
    .replace(/host: \S+, port: 1502/, `host: ${host}, port: ${port}`)
    .replace(/above: 150 psig/, 'above: 1 psig\n        on_delay: 0 s\n        running_for: 0 s')
    .replaceAll(/on_delay: 2 min/g, 'on_delay: 0 s')
    .replaceAll(/running_for: 5 min/g, 'running_for: 0 s')
    .replaceAll(/poll_s: 5, fast_s: 2/g, 'poll_s: 1, fast_s: 1');
  const file = join(places.folder, 'site.yaml');
  writeFileSync(file, text);
  return file;
}

export async function startAgent(): Promise<RunningAgent> {
  const folder = mkdtempSync(join(tmpdir(), 'tonhour-documents-'));
  const broker = await startBroker();
  const plant = start(['plant', '--chiller', 'CH-1', '--modbus', '127.0.0.1:0', '--seed', '1']);
  const modbus = await line(plant, /"modbus":"([^"]+)"/);
  const config = siteFile({ folder, modbus, broker: broker.url, web: await freePort() });
  const agent = start(['run', '--config', config]);
  const page = await line(agent, /page\s+(\S+)/);
  return {
    page,
    broker: broker.url,
    async stop() {
      for (const child of [agent, plant]) {
        child.kill('SIGTERM');
        if (child.exitCode === null) await once(child, 'exit');
      }
      await broker.stop();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
