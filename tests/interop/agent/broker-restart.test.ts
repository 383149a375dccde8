// Goal: with mosquitto (Debian) in place of the demo's broker, a subscriber gets every sequence number though the
// broker restarts once. The agent is whole and real: plant process, Modbus TCP, store, outbox. The subscriber reads
// with the `mqtt` package and a session that outlives the restart.
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { writeFileSync } from 'node:fs';
import { connect, createServer } from 'node:net';
import path from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import mqtt from 'mqtt';
import { afterEach, expect, test } from 'vitest';
import { agentFor, siteFor, startPlant, temporaryFolder } from '../../contract/agent/harness.ts';

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  server.close();
  await once(server, 'close');
  return port;
}

async function startBroker(folder: string, port: number): Promise<ChildProcess> {
  const file = path.join(folder, 'mosquitto.conf');
  const user = process.getuid?.() === 0 ? 'user root\n' : '';
  writeFileSync(
    file,
    `listener ${port} 127.0.0.1\nallow_anonymous true\npersistence true\npersistence_location ${folder}/\n${user}`,
  );
  // Debian puts the broker where an ordinary user's PATH does not look.
  const broker = spawn('mosquitto', ['-c', file], {
    stdio: 'ignore',
    env: { ...process.env, PATH: `${process.env['PATH']}:/usr/sbin` },
  });
  await once(broker, 'spawn');
  while (!(await answers(port))) {
    expect(broker.exitCode, 'mosquitto runs').toBeNull();
    await pause(20);
  }
  return broker;
}

function answers(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1', () => {
      socket.destroy();
      resolve(true);
    });
    socket.on('error', () => resolve(false));
  });
}

async function end(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  child.kill('SIGTERM');
  await once(child, 'exit');
}

test('30 consecutive minutes arrive while the broker restarts once', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const port = await freePort();
  let broker = await startBroker(folder, port);
  endings.push(() => end(broker));
  const url = `mqtt://127.0.0.1:${port}`;
  const received: number[] = [];
  let look = (): void => {};
  const until = (count: number): Promise<void> =>
    new Promise((resolve) => {
      look = () => new Set(received).size >= count && resolve();
      look();
    });
  const subscriber = await mqtt.connectAsync(url, {
    protocolVersion: 5,
    clientId: 'watcher',
    clean: false,
    properties: { sessionExpiryInterval: 3600 },
    reconnectPeriod: 100,
  });
  endings.push(() => subscriber.endAsync(true));
  subscriber.on('error', () => {});
  subscriber.on('message', (_topic, body) => {
    received.push((JSON.parse(body.toString()) as { sequence: number }).sequence);
    look();
  });
  await subscriber.subscribeAsync('tonhour/kestrel-quay/CH-1/metrics', { qos: 1 });

  const plant = await startPlant();
  endings.push(() => plant.stop());
  const agent = agentFor(await siteFor({ modbusPort: plant.port, mqttUrl: url, folder: path.join(folder, 'history') }));
  endings.push(() => agent.stop());
  await agent.start();
  await until(8);
  await end(broker);
  // Some minutes are computed while nobody takes them.
  const away = received.length;
  await pause(5000);
  expect(received).toHaveLength(away);
  broker = await startBroker(folder, port);
  await until(30);

  const firsts = [...new Set(received)].slice(0, 30);
  expect(firsts).toEqual(Array.from({ length: 30 }, (_, i) => i + 1));
});
