/**
 * Node-RED as its makers ship it, and the nodes as `npm pack` packs them. Both come by npm and are no dependency of
 * the project: Node-RED is installed once below node_modules/.cache, into a folder that `npm ci` clears.
 */
import { execFile } from 'node:child_process';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import path from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { promisify } from 'node:util';

const run = promisify(execFile);
export const NODE_RED_VERSION = '5.0.7';
const ROOT = new URL('../../..', import.meta.url).pathname;
const CACHE = path.join(ROOT, 'node_modules', '.cache', 'interop');
const OPTIONS = ['--no-audit', '--no-fund', '--prefer-offline', '--no-update-notifier'];
export const INSTALL_MS = 580_000;

/** npm under the Node of this test, whatever Node started it. */
export async function npm(args: readonly string[], folder: string): Promise<string> {
  const PATH = `${path.dirname(process.execPath)}${path.delimiter}${process.env['PATH']}`;
  const { stdout } = await run('npm', [...args], { cwd: folder, env: { ...process.env, PATH }, maxBuffer: 1 << 24 });
  return stdout;
}

/** Installs packages into a folder that holds nothing else of npm's. */
export async function npmInstall(folder: string, packages: readonly string[]): Promise<void> {
  if (!existsSync(path.join(folder, 'package.json')))
    writeFileSync(path.join(folder, 'package.json'), '{"private":true}\n');
  await npm(['install', ...OPTIONS, ...packages], folder);
}

/** A folder with Node-RED below `node_modules/node-red`. Two test files at once install it once. */
export async function nodeRedFolder(): Promise<string> {
  const folder = path.join(CACHE, `node-red-${NODE_RED_VERSION}`);
  await once(folder, (fresh) => npmInstall(fresh, [`node-red@${NODE_RED_VERSION}`]));
  return folder;
}

/** The tarball of the nodes, built and packed from this tree. */
export async function packedNodes(): Promise<string> {
  const folder = path.join(CACHE, `nodes-${process.ppid}`);
  const left = existsSync(CACHE) ? readdirSync(CACHE).filter((name) => /^nodes-\d+$/.test(name)) : [];
  for (const name of left)
    if (!lives(Number(name.slice('nodes-'.length)))) rmSync(path.join(CACHE, name), { recursive: true, force: true });
  await once(folder, async (fresh) => {
    await npm(['run', '-s', 'build'], ROOT);
    await npm(['pack', '--silent', '--pack-destination', fresh, './nodes/dist'], ROOT);
  });
  const [name = ''] = readdirSync(folder).filter((each) => each.endsWith('.tgz'));
  return path.join(folder, name);
}

/** Fills a folder once, whichever worker comes first; it appears whole or not at all. */
async function once(folder: string, fill: (fresh: string) => Promise<void>): Promise<void> {
  mkdirSync(CACHE, { recursive: true });
  const claim = `${folder}.claim`;
  while (!existsSync(folder)) {
    try {
      writeFileSync(claim, String(process.pid), { flag: 'wx' });
    } catch {
      if (!claimHolds(claim)) rmSync(claim, { force: true });
      else await pause(200);
      continue;
    }
    const fresh = mkdtempSync(`${folder}-`);
    try {
      await fill(fresh);
      if (!existsSync(folder)) renameSync(fresh, folder);
    } finally {
      rmSync(fresh, { recursive: true, force: true });
      rmSync(claim, { force: true });
    }
  }
}

/** Whether the process that claimed the work still lives. */
function claimHolds(claim: string): boolean {
  return existsSync(claim) && lives(Number(readFileSync(claim, 'utf8')));
}

function lives(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}
