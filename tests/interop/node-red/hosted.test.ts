// Goal: no flow of a hosted Node-RED can delay a minute. Method: the command `run` on a site file that hosts the real
// Node-RED 5, with flows that throw, flood, block for a minute and leak memory; the minutes are read from the live
// stream of the page meanwhile. Then the ends: asked to stop, and killed while a flow blocks.
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { afterEach, beforeAll, expect, test } from 'vitest';
import { parse, stringify } from 'yaml';
import { startPlant, temporaryFolder } from '../../contract/agent/harness.ts';
import { freePort } from '../mqtt/broker.ts';
import { INSTALL_MS, nodeRedFolder } from './install.ts';

const ROOT = new URL('../../..', import.meta.url).pathname;
const WAIT = { timeout: 120_000, interval: 200 };
const endings: (() => unknown)[] = [];
let installed: string;

beforeAll(async () => {
  installed = await nodeRedFolder();
}, INSTALL_MS);
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

const MISCHIEF = {
  throws: "(async () => { throw new Error('thrown where nobody catches'); })(); return msg;",
  floods: `const until = Date.now() + 15000;
    const more = () => { for (let i = 0; i < 500; i++) node.warn('flood '.repeat(100)); if (Date.now() < until) setTimeout(more, 0); };
    more(); return msg;`,
  blocks: 'const until = Date.now() + 60000; while (Date.now() < until); return msg;',
  leaks: `const kept = []; context.set('kept', kept);
    setInterval(() => kept.push(Buffer.alloc(8e6, kept.length)), 20); return msg;`,
  alive: 'return msg;',
} as const;
type Mischief = keyof typeof MISCHIEF;

/** Each at its own address, answered before the mischief where it can be; and one that asks the agent without rest. */
function flows(agentUrl: string): object[] {
  const tab = { id: 'tab', type: 'tab', label: 'mischief' };
  const each = Object.entries(MISCHIEF).flatMap(([name, func]) => [
    {
      id: `${name}-in`,
      type: 'http in',
      z: 'tab',
      url: `/${name}`,
      method: 'get',
      wires: [[`${name}-out`, `${name}-do`]],
    },
    { id: `${name}-out`, type: 'http response', z: 'tab', statusCode: '', wires: [] },
    { id: `${name}-do`, type: 'function', z: 'tab', func, outputs: 1, libs: [], wires: [[]] },
  ]);
  const asks = {
    id: 'asks',
    type: 'http request',
    z: 'tab',
    method: 'GET',
    ret: 'txt',
    url: `${agentUrl}/api/site`,
    wires: [['asks']],
  };
  const pester = {
    id: 'pester-in',
    type: 'http in',
    z: 'tab',
    url: '/pesters',
    method: 'get',
    wires: [['pester-out', 'asks', 'asks']],
  };
  const answer = { id: 'pester-out', type: 'http response', z: 'tab', statusCode: '', wires: [] };
  return [tab, ...each, asks, pester, answer];
}

interface Minute {
  readonly time: string;
  readonly sequence: number;
}

interface Rig {
  readonly agent: ChildProcess;
  readonly log: string[];
  readonly minutes: Minute[];
  readonly nodeRed: string;
  /** Status of a request to Node-RED, 0 where nothing answers. */
  ask(where: string, password?: string): Promise<number>;
  /** The hosted process; null while there is none. */
  child(): number | null;
}

async function rig(): Promise<Rig> {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const plant = await startPlant({ chiller: 'CH-1' });
  endings.push(() => plant.stop());
  const [webPort, port] = [await freePort(), await freePort()];
  const { hashSync } = createRequire(path.join(installed, 'package.json'))('bcryptjs') as {
    hashSync(password: string, cost: number): string;
  };
  writeFileSync(path.join(folder, 'hash'), `${hashSync('right', 8)}\n`);
  const site = parse(readFileSync(path.join(ROOT, 'config/kestrel-quay.yaml'), 'utf8')) as Record<string, unknown>;
  const [first] = site['chillers'] as [Record<string, unknown>];
  const file = path.join(folder, 'site.yaml');
  const hosted = {
    folder: 'flows',
    program: path.join(installed, 'node_modules/node-red'),
    port,
    username: 'engineer',
    memory_mb: 384,
  };
  const text = stringify({
    ...site,
    interval_s: 2,
    mqtt: undefined,
    web: { port: webPort },
    chillers: [{ ...first, source: { modbus: { host: plant.host, port: plant.port, poll_s: 1, fast_s: 1 } } }],
    node_red: { ...hosted, password_hash: 'HASH' },
  });
  writeFileSync(file, text.replace('password_hash: HASH', 'password_hash: !secret file:hash'));
  const made = spawn('mkdir', ['flows'], { cwd: folder });
  await once(made, 'exit');
  writeFileSync(path.join(folder, 'flows', 'flows.json'), JSON.stringify(flows(`http://127.0.0.1:${webPort}`)));
  const agent = spawn(process.execPath, [path.join(ROOT, 'agent/main.ts'), 'run', '--config', file], {
    cwd: folder,
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const log: string[] = [];
  createInterface({ input: agent.stderr }).on('line', (line) => log.push(line));
  endings.push(async () => {
    if (agent.exitCode !== null || agent.signalCode !== null) return;
    agent.kill('SIGKILL');
    await once(agent, 'exit');
  });
  createInterface({ input: agent.stdout }).on('line', (line) => log.push(line));
  const nodeRed = `http://127.0.0.1:${port}`;
  const url = `http://127.0.0.1:${webPort}`;
  const minutes: Minute[] = [];
  await expect.poll(() => log.join('\n'), WAIT).toContain(url);
  endings.push(await follow(url, minutes));
  return {
    agent,
    log,
    minutes,
    nodeRed,
    ask: async (where, password = 'right') => {
      const authorization = `Basic ${Buffer.from(`engineer:${password}`).toString('base64')}`;
      const headers = password === '' ? {} : { authorization };
      try {
        return (await fetch(`${nodeRed}${where}`, { headers, signal: AbortSignal.timeout(3000) })).status;
      } catch {
        return 0;
      }
    },
    child: () => childOf(agent.pid ?? 0),
  };
}

/** The live stream of the page into `minutes`; returns the way to end it. */
async function follow(url: string, minutes: Minute[]): Promise<() => void> {
  const over = new AbortController();
  const response = await fetch(`${url}/api/live`, { signal: over.signal });
  void (async () => {
    let rest = '';
    try {
      for await (const chunk of response.body as unknown as AsyncIterable<Uint8Array>) {
        const events = (rest + new TextDecoder().decode(chunk)).split('\n\n');
        rest = events.pop() ?? '';
        for (const event of events.filter((each) => each.startsWith('event: minute'))) {
          const { time, sequence } = JSON.parse(event.slice(event.indexOf('data: ') + 6)) as Partial<Minute>;
          if (typeof time === 'string' && typeof sequence === 'number') minutes.push({ time, sequence });
        }
      }
    } catch {
      // The agent ended, or the test.
    }
  })();
  return () => over.abort();
}

function childOf(parent: number): number | null {
  for (const name of readdirSync('/proc').filter((each) => /^\d+$/.test(each)))
    try {
      const stat = readFileSync(`/proc/${name}/stat`, 'utf8');
      const [state, ppid] = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
      if (Number(ppid) === parent && state !== 'Z') return Number(name);
    } catch {
      // It ended meanwhile.
    }
  return null;
}

/** Holds the minutes from index `from` on: none is missing, none is late by a whole interval. */
function expectUnbroken(minutes: readonly Minute[], from: number): void {
  const part = minutes.slice(from);
  const first = part[0] as Minute;
  expect(part.map(({ sequence }) => sequence)).toEqual(part.map((_, i) => first.sequence + i));
  expect(part.map(({ time }) => Date.parse(time))).toEqual(part.map((_, i) => Date.parse(first.time) + 2000 * i));
}

async function moreMinutes(minutes: readonly Minute[], count: number): Promise<void> {
  const wanted = minutes.length + count;
  await expect.poll(() => minutes.length, { timeout: 300_000, interval: 200 }).toBeGreaterThanOrEqual(wanted);
}

test('flows that throw, flood, block for a minute and leak delay no minute', { timeout: 580_000 }, async () => {
  const { ask, minutes, log, child } = await rig();
  const told = (code: string): number => log.filter((line) => line.includes(`"code":"${code}"`)).length;
  const toldAnew = async (code: string, act: () => Promise<void>): Promise<void> => {
    const before = told(code);
    await act();
    await expect.poll(() => told(code), WAIT).toBeGreaterThan(before);
  };
  const alive = (): Promise<void> => expect.poll(() => ask('/alive'), WAIT).toBe(200);
  await alive();
  // Nothing of it opens without the credential.
  expect([await ask('/alive', ''), await ask('/alive', 'wrong'), await ask('/flows', '')]).toEqual([401, 401, 401]);
  await moreMinutes(minutes, 2);
  const from = minutes.length - 1;
  const doing = async (mischief: Mischief | 'pesters'): Promise<void> => void (await ask(`/${mischief}`));

  const before = child();
  await toldAnew('node_red_ended', () => doing('throws'));
  await alive();
  expect(child()).not.toBe(before);

  await doing('pesters');
  await doing('floods');
  await expect.poll(() => log.some((line) => line.includes('lines of Node-RED left out')), WAIT).toBe(true);
  await moreMinutes(minutes, 8);
  // No more of it was let through than the bound allows: a second's lines, over the seconds of the flood and a margin.
  expect(log.filter((line) => line.includes('flood flood')).length).toBeLessThan(50 * 60);

  await expect.poll(() => ask('/alive'), { timeout: 120_000, interval: 500 }).toBe(200);
  const blocked = minutes.length;
  await toldAnew('node_red_silent', () => doing('blocks'));
  expect(await ask('/alive')).toBe(0);
  await expect.poll(() => ask('/alive'), { timeout: 180_000, interval: 500 }).toBe(200);
  expect(minutes.length - blocked).toBeGreaterThanOrEqual(25); // a minute of it, at one each 2 s

  const leaking = child();
  await toldAnew('node_red_memory', () => doing('leaks'));
  await alive();
  expect(child()).not.toBe(leaking);
  expectUnbroken(minutes, from);
});

test('stopped with the agent, and gone with an agent that was killed while a flow blocks', {
  timeout: 300_000,
}, async () => {
  const gone = (pid: number): boolean => {
    try {
      return /^State:\s+Z/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'));
    } catch {
      return true;
    }
  };
  for (const signal of ['SIGTERM', 'SIGKILL'] as const) {
    const { agent, ask, child } = await rig();
    await expect.poll(() => ask('/alive'), WAIT).toBe(200);
    const pid = child();
    expect(pid).not.toBeNull();
    if (signal === 'SIGKILL') await ask('/blocks');
    agent.kill(signal);
    const [code] = await once(agent, 'exit');
    if (signal === 'SIGTERM') expect(code).toBe(0);
    await expect.poll(() => gone(pid ?? 0), { timeout: 30_000, interval: 100 }).toBe(true);
  }
});
