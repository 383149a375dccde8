// Goal: the host outlives whatever its child does. Method: real processes that stand in for Node-RED and misbehave one
// way each, on the real clock where they must and on a clock of the test where pauses grow. The real Node-RED:
// `tests/interop/node-red`.
import { spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { constants, getPriority, tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { FlowHost } from '../../../agent/flows/host.ts';
import { readOutput } from '../../../agent/flows/output.ts';
import type { Timers } from '../../../agent/flows/timers.ts';
import { Secret } from '../../../agent/site/secret.ts';

const WAIT = { timeout: 30_000, interval: 20 };
const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

const realTimers: Timers = {
  after(ms, run) {
    const handle = setTimeout(run, ms);
    return () => clearTimeout(handle);
  },
};

/** Lets no time pass by itself: `pass` calls the oldest that waits, and says how long it waited. */
function heldTimers(): Timers & { pass(): number; readonly waiting: number } {
  const due: { ms: number; run: () => void }[] = [];
  return {
    after(ms, run) {
      const entry = { ms, run };
      due.push(entry);
      return () => due.includes(entry) && due.splice(due.indexOf(entry), 1);
    },
    pass() {
      const next = due.shift();
      if (next === undefined) throw new Error('nothing waits');
      next.run();
      return next.ms;
    },
    get waiting() {
      return due.length;
    },
  };
}

/** A host whose program is `script`; left out: none is installed. */
function hostOf(
  script: string | null,
  timers: Timers = realTimers,
  environment: Record<string, string> = {},
  now = () => performance.now(),
) {
  const folder = mkdtempSync(path.join(tmpdir(), 'tonhour-flows-'));
  endings.push(() => rmSync(folder, { recursive: true, force: true }));
  const install = (text: string): void => {
    const place = path.join(folder, 'node_modules', 'node-red');
    mkdirSync(place, { recursive: true });
    writeFileSync(path.join(place, 'package.json'), '{"name":"node-red","version":"5.0.0"}');
    writeFileSync(path.join(place, 'red.js'), text);
  };
  if (script !== null) install(script);
  const told: { readonly code?: string; readonly message: string }[] = [];
  const log = (about: object, message: string): void => void told.push({ ...about, message });
  const host = new FlowHost({
    settings: {
      folder,
      program: null,
      host: '127.0.0.1',
      port: 9, // nobody answers there
      username: 'engineer',
      password_hash: new Secret('$2b$08$hash'),
      memory_mb: 192,
    },
    environment,
    timers,
    now,
    log: { info: log, warn: log, error: log },
  });
  endings.push(() => host.stop());
  return { host, told, folder, install };
}

test('none installed: said once with what to do, looked for again, and started once it is there', async () => {
  const timers = heldTimers();
  const { host, told, install } = hostOf(null, timers);
  host.start();
  expect(told).toMatchObject([
    { code: 'node_red_missing', message: expect.stringContaining('npm install node-red@5') },
  ]);
  timers.pass();
  expect(told.filter(({ message }) => message.includes('npm install'))).toHaveLength(1);
  expect(host.status()).toEqual({ state: 'ended', starts: 0, failures: { node_red_missing: 2 } });
  install("console.log('here I am'); setInterval(() => {}, 1000);");
  timers.pass();
  await expect.poll(() => told.map(({ message }) => message), WAIT).toContain('here I am');
  expect(host.status()).toEqual({ state: 'starting', starts: 1, failures: { node_red_missing: 2 } });
  await host.stop();
  expect(host.status().state).toBe('stopped');
});

test('one that ends at once is started anew, later each time, up to a bound', async () => {
  const timers = heldTimers();
  const { host, told } = hostOf('process.exit(3);', timers);
  host.start();
  const pauses: number[] = [];
  for (let i = 0; i < 12; i++) {
    await expect.poll(() => told.length, WAIT).toBe(i + 1);
    // What is left waits for the next start; looks at the process that ended were taken back.
    expect(timers.waiting).toBe(1);
    pauses.push(timers.pass());
  }
  const { node_red_backoff_ms_min: least, node_red_backoff_ms_max: most } = LIMITS;
  expect(pauses).toEqual(pauses.map((_, i) => Math.min(most, least * 2 ** i)));
  expect(host.status()).toMatchObject({ starts: 13, failures: { node_red_ended: 12 } });
  expect(told[0]).toMatchObject({ code: 'node_red_ended', message: expect.stringContaining('it ended with 3') });
  expect(told.filter(({ message }) => message.includes('it ended with 3'))).toHaveLength(1);
});

test('one that does not stop when asked is ended, with what it started', async () => {
  const { host, told } = hostOf(
    `process.on('SIGTERM', () => {});
     const { spawn } = require('node:child_process');
     const own = spawn(process.execPath, ['-e', 'setInterval(() => {}, 1000)'], { stdio: 'ignore' });
     console.log('pids', process.pid, own.pid);
     setInterval(() => {}, 1000);`,
  );
  host.start();
  await expect.poll(() => told.some(({ message }) => message.startsWith('pids')), WAIT).toBe(true);
  const pids = (told.find(({ message }) => message.startsWith('pids'))?.message ?? '').split(' ').slice(1).map(Number);
  await host.stop();
  const alive = (pid: number): boolean => {
    try {
      return !/^State:\s+Z/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'));
    } catch {
      return false;
    }
  };
  expect(pids).toHaveLength(2);
  await expect.poll(() => pids.filter(alive), WAIT).toEqual([]);
});

test('one that holds more memory than it may, also outside its heap, is ended and started anew', async () => {
  const timers = heldTimers();
  const { host, told } = hostOf(
    "const kept = []; for (let i = 0; i < 20; i++) kept.push(Buffer.alloc(16e6, 1)); console.log('full'); setInterval(() => kept, 1000);",
    timers,
  );
  host.start();
  await expect.poll(() => told.some(({ message }) => message === 'full'), WAIT).toBe(true);
  timers.pass();
  await expect.poll(() => told.map(({ code }) => code), WAIT).toContain('node_red_memory');
  expect(told.find(({ code }) => code === 'node_red_memory')?.message).toMatch(/held \d+ MB, more than memory_mb 192/);
  expect(host.status()).toEqual({ state: 'ended', starts: 1, failures: { node_red_memory: 1 } });
  const before = told.length;
  while (timers.waiting > 0 && told.length === before) timers.pass();
  await expect.poll(() => told.slice(before).map(({ message }) => message), WAIT).toContain('full');
});

test('one that does not answer is told of, and ended after five minutes of silence', async () => {
  const timers = heldTimers();
  let clock_ms = 0;
  const { host, told } = hostOf('for (;;);', timers, {}, () => clock_ms);
  host.start();
  const codes = (): (string | undefined)[] => told.map(({ code }) => code).filter((code) => code !== undefined);
  await expect.poll(() => timers.waiting, WAIT).toBeGreaterThan(0);
  clock_ms = LIMITS.node_red_silence_told_ms + 1;
  timers.pass();
  await expect.poll(codes, WAIT).toEqual(['node_red_silent']);
  expect(told.at(-1)?.message).toContain('has not answered for 20 s');
  expect(host.status().state).toBe('silent');
  await expect.poll(() => timers.waiting, WAIT).toBeGreaterThan(0);
  clock_ms = LIMITS.node_red_silent_ms_max + 1;
  timers.pass();
  await expect.poll(codes, WAIT).toEqual(['node_red_silent', 'node_red_silent']);
  expect(told.at(-1)?.message).toBe('Node-RED does not run: it did not answer for 300 s');
  expect(host.status()).toEqual({ state: 'ended', starts: 1, failures: { node_red_silent: 1 } });
});

test('it stands back from processor and memory', async () => {
  const { host, told } = hostOf("console.log('pid', process.pid); setInterval(() => {}, 1000);");
  host.start();
  await expect.poll(() => told.some(({ message }) => message.startsWith('pid')), WAIT).toBe(true);
  const pid = Number(told.find(({ message }) => message.startsWith('pid'))?.message.slice(4));
  expect(getPriority(pid)).toBe(constants.priority.PRIORITY_BELOW_NORMAL);
  expect(readFileSync(`/proc/${pid}/oom_score_adj`, 'utf8').trim()).toBe('1000');
});

test('stopped before it came up, it does not come up', async () => {
  const timers = heldTimers();
  const { host, told } = hostOf(null, timers);
  host.start();
  await host.stop();
  expect(timers.waiting).toBe(0);
  host.start();
  expect([timers.waiting, told.length]).toEqual([0, 1]);
});

test('of the environment it gets what programs need, and no secret', async () => {
  const { host, told } = hostOf(
    "console.log(Object.keys(process.env).sort().join(' ')); setInterval(() => {}, 1000);",
    realTimers,
    {
      PATH: process.env['PATH'] ?? '',
      TZ: 'UTC',
      LC_ALL: 'C',
      MQTT_PASSWORD: 'hunter2',
      NOTIFY_SOCKET: '/run/x',
      NODE_OPTIONS: '--inspect',
    },
  );
  host.start();
  await expect.poll(() => told.map(({ message }) => message), WAIT).toContain('LC_ALL PATH TONHOUR_NODE_RED TZ');
});

test('the settings take the credential out of the environment before a flow can see it', async () => {
  const { host, told } = hostOf(
    `const settings = require(process.argv[process.argv.indexOf('--settings') + 1]);
     console.log(JSON.stringify([process.env.TONHOUR_NODE_RED ?? null, settings.adminAuth.users, settings.httpNodeAuth, settings.uiHost]));
     setInterval(() => {}, 1000);`,
  );
  host.start();
  await expect.poll(() => told.some(({ message }) => message.startsWith('[')), WAIT).toBe(true);
  expect(JSON.parse(told.find(({ message }) => message.startsWith('['))?.message ?? '')).toEqual([
    null,
    [{ username: 'engineer', password: '$2b$08$hash', permissions: '*' }],
    { user: 'engineer', pass: '$2b$08$hash' },
    '127.0.0.1',
  ]);
});

test('a flood of output waits at its own end: a second reads so much of it, and no more', async () => {
  const timers = heldTimers();
  const child = spawn('yes', ['x'.repeat(999)], { stdio: ['ignore', 'pipe', 'ignore'] });
  endings.push(() => child.kill('SIGKILL'));
  const seconds: { lines: number; dropped: number }[] = [{ lines: 0, dropped: 0 }];
  const last = () => seconds.at(-1) as { lines: number; dropped: number };
  const stop = readOutput(child.stdout, {
    timers,
    line: () => {
      last().lines += 1;
    },
    dropped: (count) => {
      last().dropped += count;
    },
  });
  endings.push(stop);
  for (let i = 0; i < 5; i++) {
    // It pauses by itself once the second's budget is read; only then does the second end.
    await expect.poll(() => child.stdout.isPaused(), WAIT).toBe(true);
    timers.pass();
    seconds.push({ lines: 0, dropped: 0 });
  }
  const whole = seconds.slice(0, 5);
  const chunk = 64 * 1024;
  for (const { lines, dropped } of whole) {
    expect(lines).toBeLessThanOrEqual(LIMITS.node_red_lines_per_s_max);
    expect(1000 * (lines + dropped)).toBeLessThanOrEqual(LIMITS.node_red_output_bytes_per_s_max + 2 * chunk);
  }
  expect(whole.every(({ dropped }) => dropped > 0)).toBe(true);
});
