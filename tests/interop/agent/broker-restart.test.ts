// Goal: with mosquitto (Debian) in place of the demo's broker, a subscriber gets every sequence number though the
// broker restarts once. The agent is whole and real: plant process, Modbus TCP, store, outbox. The subscriber reads
// with the `mqtt` package and a session that outlives the restart.
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import mqtt from 'mqtt';
import { afterEach, expect, test } from 'vitest';
import type { Now } from '../../../agent/web/types.ts';
import { agentFor, siteFor, startPlant, temporaryFolder } from '../../contract/agent/harness.ts';
import { configuration, end, freePort, startMosquitto } from '../mqtt/broker.ts';

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

test('30 consecutive minutes arrive while the broker restarts once', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const port = await freePort();
  writeFileSync(
    path.join(folder, 'mosquitto.conf'),
    [...configuration(folder, port), 'allow_anonymous true', ''].join('\n'),
  );
  let broker = await startMosquitto(folder, port);
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
  const page = await agent.start();
  const sequence = async (): Promise<number> =>
    ((await (await fetch(`${page.url}/api/chillers/CH-1/now`)).json()) as Now).sequence ?? 0;
  await until(8);
  await end(broker);
  // Some minutes are computed while nobody takes them.
  const away = await sequence();
  while ((await sequence()) < away + 4) await pause(100);
  expect(Math.max(...received)).toBeLessThanOrEqual(away);
  broker = await startMosquitto(folder, port);
  await until(30);

  const firsts = [...new Set(received)].slice(0, 30);
  expect(firsts).toEqual(Array.from({ length: 30 }, (_, i) => i + 1));
});
