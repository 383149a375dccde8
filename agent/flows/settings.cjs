// Settings of the Node-RED that the agent hosts; Node-RED itself loads this file. What the site file says comes in one
// variable of the environment, which is taken out again before any flow can read it.
'use strict';
const { Worker } = require('node:worker_threads');

/**
 * @typedef {{ host: string, port: number, folder: string, username: string, password_hash: string, parent: number }}
 *   Given
 */
const { env } = process;
/** @type {Given} */
const given = JSON.parse(env['TONHOUR_NODE_RED'] ?? '');
delete env['TONHOUR_NODE_RED'];

// An agent that was killed can stop nothing. A thread of its own sees it gone, also while a flow blocks this one, and
// ends the whole group.
const watch = `
  const { workerData } = require('node:worker_threads');
  setInterval(() => {
    if (process.ppid !== workerData) process.kill(-process.pid, 'SIGKILL');
  }, 1000);
`;
new Worker(watch, { eval: true, workerData: given.parent }).unref();

module.exports = {
  uiHost: given.host,
  uiPort: given.port,
  userDir: given.folder,
  flowFile: 'flows.json',
  flowFilePretty: true,
  adminAuth: {
    type: 'credentials',
    users: [{ username: given.username, password: given.password_hash, permissions: '*' }],
  },
  // Endpoints that flows open ask for the same.
  httpNodeAuth: { user: given.username, pass: given.password_hash },
  telemetry: { enabled: false, updateNotification: false },
  editorTheme: { tours: false, projects: { enabled: false } },
  logging: { console: { level: 'info', metrics: false, audit: false } },
};
