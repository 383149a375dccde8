// Goal: commands to alarms through mosquitto (Debian): an operator with the right to publish is heard, one without is
// not, each command counts once, and what was sent while the agent was killed is not lost. Method: mosquitto with an
// access list, its own client mosquitto_pub as the operator, the whole agent as a child process.
import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { createInterface } from 'node:readline';
import mqtt from 'mqtt';
import { afterEach, expect, test } from 'vitest';
import { temporaryFolder } from '../../contract/agent/harness.ts';
import { configuration, end, env, freePort, startMosquitto } from './broker.ts';

const VICTIM = new URL('../../fault/agent/commands-victim.ts', import.meta.url).pathname;
const ROOT = 'tonhour/kestrel-quay';
const ACKNOWLEDGE = JSON.stringify({ chiller: 'CH-1', alarm: 'new-machine', by: 'duty engineer' });

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

/** The agent may publish below its site and hear commands, the operator may command, a guest may look. */
const ACCESS = [
  'user agent',
  `topic write ${ROOT}/#`,
  `topic read ${ROOT}/command/+`,
  'user operator',
  `topic write ${ROOT}/command/+`,
  'user guest',
  `topic read ${ROOT}/#`,
  '',
].join('\n');

async function mosquitto(folder: string): Promise<number> {
  const port = await freePort();
  const file = (name: string): string => path.join(folder, name);
  writeFileSync(file('access'), ACCESS);
  chmodSync(file('access'), 0o600);
  for (const [i, user] of ['agent', 'operator', 'guest'].entries())
    execFileSync('mosquitto_passwd', ['-b', ...(i === 0 ? ['-c'] : []), file('users'), user, 'secret'], {
      env,
      stdio: 'ignore',
    });
  const lines = ['allow_anonymous false', `password_file ${file('users')}`, `acl_file ${file('access')}`, ''];
  writeFileSync(file('mosquitto.conf'), [...configuration(folder, port), ...lines].join('\n'));
  const broker = await startMosquitto(folder, port);
  endings.push(() => end(broker));
  return port;
}

function publish(port: number, user: string, verb: string, payload: string): void {
  const as = ['-h', '127.0.0.1', '-p', String(port), '-u', user, '-P', 'secret', '-V', 'mqttv5'];
  execFileSync('mosquitto_pub', [...as, '-q', '1', '-t', `${ROOT}/command/${verb}`, '-m', payload], {
    env,
    stdio: 'ignore',
  });
}

async function start(port: number, folder: string, moment: string): Promise<ChildProcess & { readonly url: string }> {
  const args = [VICTIM, `mqtt://127.0.0.1:${port}`, path.join(folder, 'history'), moment, 'agent', 'secret'];
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'inherit'] });
  endings.push(async () => {
    if (child.exitCode !== null || child.signalCode !== null) return;
    child.kill('SIGKILL');
    await once(child, 'exit');
  });
  const ended = once(child, 'exit').then(([code]) => {
    throw new Error(`the agent ended with ${code} before it served its page`);
  });
  ended.catch(() => {});
  const [url] = (await Promise.race([once(createInterface({ input: child.stdout }), 'line'), ended])) as [string];
  return Object.assign(child, { url });
}

/** The states that a guest of the broker sees the alarm go through. */
async function watch(port: number) {
  const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${port}`, { username: 'guest', password: 'secret' });
  endings.push(() => client.endAsync(true));
  const states: string[] = [];
  let look = (): void => {};
  client.on('message', (_topic, body) => {
    states.push((JSON.parse(body.toString()) as { state: string }).state);
    look();
  });
  await client.subscribeAsync(`${ROOT}/CH-1/alarms/new-machine`, { qos: 1 });
  const until = (state: string): Promise<void> =>
    new Promise((resolve) => {
      look = () => states.at(-1) === state && resolve();
      look();
    });
  return { states, until };
}

/** Settles once the agent has heard all that the broker had for it: what is sent next comes behind. */
async function counted(url: string, line: RegExp): Promise<void> {
  while (!line.test(await (await fetch(`${url}/metrics`)).text())) await new Promise((go) => setTimeout(go, 100));
}

test('the access list of the broker says who commands; a wrong command is counted once', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const port = await mosquitto(folder);
  const { url } = await start(port, folder, '-');
  const { states, until } = await watch(port);
  await until('unacknowledged');
  publish(port, 'guest', 'acknowledge', ACKNOWLEDGE);
  publish(port, 'operator', 'acknowledge', 'no JSON');
  await counted(url, /^tonhour_alarm_commands_total\{verb="acknowledge",end="refused"\} 1$/m);
  const shelve = { chiller: 'CH-1', alarm: 'new-machine', by: 'operator', reason: 'tower pump down' };
  publish(port, 'operator', 'shelve', JSON.stringify(shelve));
  await until('shelved');
  publish(port, 'operator', 'unshelve', JSON.stringify({ ...shelve, reason: undefined }));
  await until('unacknowledged');
  publish(port, 'operator', 'acknowledge', ACKNOWLEDGE);
  await until('acknowledged');
  expect(states).toEqual(['unacknowledged', 'shelved', 'unacknowledged', 'acknowledged']);
});

test('sent while the agent is dead, and killed between receipt and writing down: taken in all the same', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const port = await mosquitto(folder);
  const first = await start(port, folder, 'command_received');
  const { until } = await watch(port);
  await until('unacknowledged');
  const dead = once(first, 'exit');
  publish(port, 'operator', 'acknowledge', ACKNOWLEDGE);
  expect(await dead).toEqual([null, 'SIGKILL']);
  const shelve = { chiller: 'CH-1', alarm: 'new-machine', by: 'operator', reason: 'tower pump down' };
  publish(port, 'operator', 'shelve', JSON.stringify(shelve));
  const second = await start(port, folder, '-');
  await until('shelved');
  await counted(second.url, /^tonhour_alarm_commands_total\{verb="acknowledge",end="applied"\} 1$/m);
});
