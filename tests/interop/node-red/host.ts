/** A stock Node-RED in a process of its own, driven as its editor drives it: by the admin API. */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { readdirSync } from 'node:fs';
import { createServer, type Socket } from 'node:net';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as pause } from 'node:timers/promises';

export interface FlowItem {
  readonly id: string;
  readonly type: string;
  readonly [key: string]: unknown;
}

export interface NodeRed {
  readonly url: string;
  readonly child: ChildProcess;
  readonly log: readonly string[];
  get<T>(path: string): Promise<T>;
  deploy(flow: readonly FlowItem[]): Promise<void>;
  /** Presses the button of an inject node. */
  inject(id: string): Promise<void>;
  /** Open files and sockets of the process. */
  descriptors(): number;
  stop(): Promise<void>;
}

const BOUND_MS = 60_000;

export async function startNodeRed(installed: string, userDir: string): Promise<NodeRed> {
  const program = path.join(installed, 'node_modules', 'node-red', 'red.js');
  const args = [program, '--userDir', userDir, '--port', '0', '-D', 'uiHost=127.0.0.1', '--no-telemetry'];
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'pipe'] });
  const log: string[] = [];
  const url = await new Promise<string>((resolve, reject) => {
    const read = (line: string): void => {
      log.push(line);
      const found = /now running at (http:\S+)/.exec(line);
      if (found !== null) resolve(String(found[1]).replace(/\/$/, ''));
    };
    createInterface({ input: child.stdout }).on('line', read);
    createInterface({ input: child.stderr }).on('line', read);
    child.once('exit', (code) => reject(new Error(`Node-RED ended with ${code}:\n${log.join('\n')}`)));
    setTimeout(() => reject(new Error(`Node-RED is not up:\n${log.join('\n')}`)), BOUND_MS).unref();
  });
  const ask = async (method: string, where: string, body?: unknown): Promise<Response> => {
    const response = await fetch(`${url}${where}`, {
      method,
      headers: { accept: 'application/json', 'content-type': 'application/json', 'Node-RED-Deployment-Type': 'full' },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      signal: AbortSignal.timeout(BOUND_MS),
    });
    if (!response.ok) throw new Error(`${method} ${where}: ${response.status} ${await response.text()}`);
    return response;
  };
  return {
    url,
    child,
    log,
    get: async <T>(where: string) => (await (await ask('GET', where)).json()) as T,
    deploy: async (flow) => void (await ask('POST', '/flows', flow)),
    inject: async (id) => {
      // A deployment is answered before its nodes are all there.
      for (const late = Date.now() + BOUND_MS; ; await pause(50))
        try {
          await ask('POST', `/inject/${id}`, {});
          return;
        } catch (error) {
          if (!/: 404 /.test(String(error)) || Date.now() > late) throw error;
        }
    },
    descriptors: () => readdirSync(`/proc/${child.pid}/fd`).length,
    stop: async () => {
      if (child.exitCode !== null || child.signalCode !== null) return;
      child.kill('SIGTERM');
      const late = setTimeout(() => child.kill('SIGKILL'), BOUND_MS);
      await once(child, 'exit');
      clearTimeout(late);
    },
  };
}

/** What reached the end of a flow. */
export interface Tapped {
  readonly tap: string;
  readonly msg: Readonly<Record<string, unknown>>;
}

export interface Tap {
  readonly got: readonly Tapped[];
  /** Core nodes that send every message of a wire to the test; wire a node to `id` to tap it. */
  nodes(id: string, tab: string): FlowItem[];
  /** Waits until something that has come satisfies `wanted`. */
  until<T>(wanted: (got: readonly Tapped[]) => T | undefined, bound_ms?: number): Promise<T>;
  stop(): void;
}

/** The other end of `tcp out` nodes of a flow: one line of JSON a message. */
export async function startTap(): Promise<Tap> {
  const got: Tapped[] = [];
  const sockets = new Set<Socket>();
  const looks = new Set<() => void>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on('close', () => sockets.delete(socket));
    socket.on('error', () => {});
    createInterface({ input: socket }).on('line', (line) => {
      got.push(JSON.parse(line) as Tapped);
      for (const look of looks) look();
    });
  }).listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  const line = (id: string): string =>
    `const { req, res, ...rest } = msg; msg = { payload: JSON.stringify({ tap: '${id}', msg: rest }) + '\\n' }; return msg;`;
  return {
    got,
    nodes: (id, tab) => [
      { id, type: 'function', z: tab, func: line(id), outputs: 1, libs: [], wires: [[`${id}-out`]] },
      {
        id: `${id}-out`,
        type: 'tcp out',
        z: tab,
        host: '127.0.0.1',
        port,
        beserver: 'client',
        base64: false,
        end: false,
        wires: [],
      },
    ],
    until: (wanted, bound_ms = BOUND_MS) =>
      new Promise((resolve, reject) => {
        const late = setTimeout(() => {
          looks.delete(look);
          reject(
            new Error(`it did not come; the last of ${got.length}: ${JSON.stringify(got.slice(-3)).slice(0, 2000)}`),
          );
        }, bound_ms);
        const look = (): void => {
          const found = wanted(got);
          if (found === undefined) return;
          clearTimeout(late);
          looks.delete(look);
          resolve(found);
        };
        looks.add(look);
        look();
      }),
    stop: () => {
      for (const socket of sockets) socket.destroy();
      server.close();
    },
  };
}

/** The flow with one more wire at each of these nodes' first output. */
export function wired(flow: readonly FlowItem[], ids: readonly string[], to: string): FlowItem[] {
  return flow.map((item) => {
    if (!ids.includes(item.id)) return item;
    const [first = [], ...rest] = (item['wires'] ?? []) as string[][];
    return { ...item, wires: [[...first, to], ...rest] };
  });
}
