/**
 * The launcher: the running Node where it is new enough, else the packaged one, else one clear line. Each case is a
 * real process over a copied tree; an 'old' Node is this one with `process.versions` turned back before the launcher
 * loads.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { chmodSync, cpSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';

const LAUNCHER = new URL('../../../agent/launch.cjs', import.meta.url).pathname;
const SCRIPT = `
const say = (...words) => console.log(words.join(' '));
say('node', process.env.PACKAGED ?? 'running', 'args', JSON.stringify(process.argv.slice(2)));
if (process.argv[2] === 'exit') process.exit(Number(process.argv[3]));
if (process.argv[2] === 'die') process.kill(process.pid, 'SIGKILL');
if (process.argv[2] === 'which') say('PATH', process.env.PATH.split(':')[0]);
if (process.argv[2] === 'wait') {
  const hold = setInterval(() => {}, 1000);
  for (const signal of ['SIGINT', 'SIGTERM']) process.on(signal, () => { say('got', signal); clearInterval(hold); process.exitCode = 7; });
  say('ready');
}
`;

let folder = '';

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tonhour-launch-'));
  mkdirSync(join(folder, 'agent'));
  cpSync(LAUNCHER, join(folder, 'agent/launch.cjs'));
  writeFileSync(join(folder, 'package.json'), '{"type":"module"}');
  writeFileSync(join(folder, 'agent/main.ts'), SCRIPT);
  writeFileSync(
    join(folder, 'old.cjs'),
    "Object.defineProperty(process.versions, 'node', { value: '20.20.2' });\nprocess.env.NODE_OPTIONS = '';\n",
  );
});

afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** Stands in for the packaged binary: marks itself, then runs the Node of this test. */
function installPackaged(): string {
  const bin = join(folder, 'node_modules', `node-${process.platform}-${process.arch}`, 'bin');
  mkdirSync(bin, { recursive: true });
  writeFileSync(join(bin, 'node'), `#!/bin/sh\nPACKAGED=packaged exec "${process.execPath}" "$@"\n`);
  chmodSync(join(bin, 'node'), 0o755);
  return bin;
}

function launch(args: readonly string[], { old = false } = {}): ChildProcess {
  const before = old ? ['--require', join(folder, 'old.cjs')] : [];
  return spawn(process.execPath, [...before, join(folder, 'agent/launch.cjs'), ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
    cwd: folder,
  });
}

interface Outcome {
  readonly code: number | null;
  readonly signal: string | null;
  readonly out: string;
  readonly err: string;
}

function end(child: ChildProcess, onOut: (out: string) => void = () => {}): Promise<Outcome> {
  let out = '';
  let err = '';
  child.stdout?.on('data', (part) => {
    out += part;
    onOut(out);
  });
  child.stderr?.on('data', (part) => {
    err += part;
  });
  return new Promise((resolve) => child.on('close', (code, signal) => resolve({ code, signal, out, err })));
}

describe('which Node', () => {
  test('the running one where it is new enough, without another process', async () => {
    installPackaged();
    const { code, out } = await end(launch(['one', 'two words']));
    expect(out).toBe('node running args ["one","two words"]\n');
    expect(code).toBe(0);
  });

  test('the packaged one where the running one is too old', async () => {
    const bin = installPackaged();
    const { code, out } = await end(launch(['which', '--json'], { old: true }));
    expect(out).toContain('node packaged args ["which","--json"]');
    expect(out).toContain(`PATH ${bin}`);
    expect(code).toBe(0);
  });

  test('one clear line where neither is there', async () => {
    const { code, out, err } = await end(launch(['run'], { old: true }));
    expect(code).toBe(1);
    expect(out).toBe('');
    expect(err.trim().split('\n')).toHaveLength(1);
    expect(err).toMatch(/^tonhour: needs Node 24\.12 or newer; this is 20\.20\.2, .*npm ci/);
  });

  test('another script is the main module of its process, so that it does what it says', async () => {
    installPackaged();
    writeFileSync(join(folder, 'tool.mjs'), "if (import.meta.main) console.log('at work');\n");
    expect((await end(launch(['--node', join(folder, 'tool.mjs')]))).out).toBe('at work\n');
  });

  test('another script by --node, under either', async () => {
    installPackaged();
    writeFileSync(join(folder, 'other.mjs'), "console.log('other', process.argv.slice(2).join());\n");
    for (const old of [false, true])
      expect((await end(launch(['--node', 'other.mjs', 'a', 'b'], { old }))).out).toBe('other a,b\n');
  });
});

describe('passes on', () => {
  test.each([false, true])('the exit code (too old: %s)', async (old) => {
    installPackaged();
    for (const code of [0, 1, 2, 42]) expect((await end(launch(['exit', String(code)], { old }))).code).toBe(code);
  });

  test('the signal that ended the child', async () => {
    installPackaged();
    expect((await end(launch(['die'], { old: true }))).signal).toBe('SIGKILL');
  });

  test.each([
    ['SIGTERM', false],
    ['SIGTERM', true],
    ['SIGINT', false],
    ['SIGINT', true],
  ] as const)('%s, and waits for the orderly end (too old: %s)', async (signal, old) => {
    installPackaged();
    const child = launch(['wait'], { old });
    let sent = false;
    const { code, out } = await end(child, (text) => {
      if (sent || !text.includes('ready')) return;
      sent = true;
      child.kill(signal);
    });
    expect(out).toContain(`got ${signal}`);
    expect(code).toBe(7);
  });
});

test('a script that throws ends with a failure and says why', async () => {
  writeFileSync(join(folder, 'agent/main.ts'), "throw new Error('no such cellar');\n");
  const { code, err } = await end(launch([]));
  expect(code).toBe(1);
  expect(err).toContain('no such cellar');
});
