/**
 * Ctrl-C in a terminal, under a Node that is too old: the terminal signals the launcher and the packaged Node alike,
 * and the program must hear it once, or it would take it for the impatient second one. The terminal is opened by Python
 * (Debian: python3).
 */
import { spawnSync } from 'node:child_process';
import { chmodSync, cpSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';

const TERMINAL = `
import os, pty, signal, sys
act = {
    "ctrl-c": lambda: os.write(terminal, b"\\x03"),
    "launcher": lambda: (os.kill(child, signal.SIGINT), os.kill(child, signal.SIGTERM)),
}[sys.argv[1]]
child, terminal = pty.fork()
if child == 0: os.execv(sys.argv[2], sys.argv[2:])
said = b""
sent = False
while True:
    try: part = os.read(terminal, 4096)
    except OSError: break
    if not part: break
    said += part
    if b"ready" in said and not sent:
        sent = True
        act()
sys.stdout.buffer.write(said)
sys.stdout.flush()
sys.exit(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
`;
const PROGRAM = `
let interrupts = 0;
const hold = setInterval(() => {}, 1000);
const end = (signal) => { console.log(signal + ' after ' + interrupts); clearInterval(hold); process.exitCode = 7; };
process.on('SIGINT', () => { interrupts += 1; if (interrupts === 1) setTimeout(() => end('SIGINT'), 300); });
process.on('SIGTERM', () => end('SIGTERM'));
console.log('ready');
`;

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tonhour-terminal-'));
  mkdirSync(join(folder, 'agent'));
  cpSync(new URL('../../../agent/launch.cjs', import.meta.url).pathname, join(folder, 'agent/launch.cjs'));
  writeFileSync(join(folder, 'agent/main.ts'), PROGRAM);
  writeFileSync(join(folder, 'package.json'), '{"type":"module"}');
  writeFileSync(
    join(folder, 'old.cjs'),
    "if (!process.env.PACKAGED) Object.defineProperty(process.versions, 'node', { value: '20.20.2' });\n",
  );
  const bin = join(folder, 'node_modules', `node-${process.platform}-${process.arch}`, 'bin');
  mkdirSync(bin, { recursive: true });
  writeFileSync(join(bin, 'node'), `#!/bin/sh\nPACKAGED=1 exec "${process.execPath}" "$@"\n`);
  chmodSync(join(bin, 'node'), 0o755);
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

function inTerminal(act: 'ctrl-c' | 'launcher', { old }: { readonly old: boolean }) {
  const node = [process.execPath, ...(old ? ['--require', join(folder, 'old.cjs')] : [])];
  const args = ['-c', TERMINAL, act, ...node, join(folder, 'agent/launch.cjs')];
  return spawnSync('/usr/bin/python3', args, { encoding: 'utf8', cwd: folder, timeout: 30_000 });
}

test.each([false, true])('Ctrl-C ends the program in order (too old: %s)', (old) => {
  const { stdout, status } = inTerminal('ctrl-c', { old });
  expect(stdout).toContain('SIGINT after 1');
  expect(status).toBe(7);
});

test('what the terminal sends to all is not passed on a second time; what others send is', () => {
  const { stdout, status } = inTerminal('launcher', { old: true });
  expect(stdout).toContain('SIGTERM after 0');
  expect(status).toBe(7);
});
