// Before the tests. npm leaves out optional packages whose `engines` exclude the Node that npm itself runs under, and
// so on an old Node the native parts of the test runner, which run well under the packaged Node. Then the same npm
// installs once more under that Node.
'use strict';
const { spawnSync } = require('node:child_process');
const path = require('node:path');

const [major = 0, minor = 0] = process.versions.node.split('.').map(Number);
const old = major < 22 || (major === 22 && minor < 12);
const root = path.resolve(__dirname, '..');
const packaged = path.join(root, 'node_modules', `node-${process.platform}-${process.arch}`, 'bin', 'node');
const npm = process.env['npm_execpath'];

if (old && npm !== undefined) {
  const options = { cwd: root, stdio: /** @type {const} */ ('inherit') };
  const probe = ['--input-type=module', '-e', "await import('oxc-parser'); await import('rolldown');"];
  if (spawnSync(packaged, probe, { cwd: root, stdio: 'ignore' }).status !== 0) {
    console.error(`npm under Node ${process.versions.node} left out parts of the test runner; installing them`);
    process.exitCode = spawnSync(packaged, [npm, 'install', '--no-save'], options).status ?? 1;
  }
}
