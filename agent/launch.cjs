#!/usr/bin/env node
// Starts everything under a Node that strips types: the running one where it is new enough, else the packaged one, else
// one clear line. `launch.cjs VERB ...` runs the agent's command line; `launch.cjs --node SCRIPT ...` runs any other
// script the same way. CommonJS and old syntax on purpose: it must load under Node 18.
'use strict';
const { existsSync } = require('node:fs');
const { spawn } = require('node:child_process');
const path = require('node:path');
const { pathToFileURL } = require('node:url');

/** @type {[number, number]} */
const NEEDED = [24, 12];
const root = path.resolve(__dirname, '..');

/** @param {string} version */
function newEnough(version) {
  const [major = 0, minor = 0] = version.split('.').map(Number);
  return major > NEEDED[0] || (major === NEEDED[0] && minor >= NEEDED[1]);
}

function packagedNode() {
  const file = path.join(root, 'node_modules', `node-${process.platform}-${process.arch}`, 'bin', 'node');
  return existsSync(file) ? file : null;
}

/** @param {string} node @param {string[]} args */
function runUnder(node, args) {
  const PATH = path.dirname(node) + path.delimiter + (process.env.PATH || '');
  const child = spawn(node, args, { stdio: 'inherit', env: { ...process.env, PATH } });
  // A terminal sends Ctrl-C to the whole group already; passing it on again would read as the impatient second one.
  if (!process.stdin.isTTY) process.on('SIGINT', () => child.kill('SIGINT'));
  else process.on('SIGINT', () => {});
  for (const signal of /** @type {const} */ (['SIGTERM', 'SIGHUP'])) process.on(signal, () => child.kill(signal));
  child.on('error', (error) => {
    console.error(`tonhour: cannot start ${node}: ${error.message}`);
    process.exit(1);
  });
  child.on('exit', (code, signal) => {
    if (signal === null) process.exit(code);
    process.removeAllListeners(signal);
    process.kill(process.pid, signal);
  });
}

const given = process.argv.slice(2);
const other = given[0] === '--node';
const script = other ? path.resolve(given[1] || '') : path.join(__dirname, 'main.ts');
const rest = other ? given.slice(2) : given;

if (newEnough(process.versions.node) && !other) {
  process.argv = [process.execPath, script, ...rest];
  import(pathToFileURL(script).href).catch((error) => {
    console.error(error);
    process.exit(1);
  });
} else {
  // Another script always gets a process of its own: imported, it would not be the main module and might do nothing.
  const node = newEnough(process.versions.node) ? process.execPath : packagedNode();
  if (node === null) {
    console.error(
      `tonhour: needs Node ${NEEDED.join('.')} or newer; this is ${process.versions.node}, and no packaged Node for ` +
        `${process.platform}-${process.arch} is installed. Run 'npm ci' (it brings one for Linux on x64 and arm64), or install Node 24.`,
    );
    process.exit(1);
  }
  runUnder(node, [script, ...rest]);
}
