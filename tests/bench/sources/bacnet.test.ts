/**
 * Objects per second over loopback, one request in flight: our port with every check of it, beside @bacnet-js/client,
 * in turn in one run, from one device of node-bacnet in this process (so that most of the time is the device's).
 * Ratios are what counts, of the best of ten rounds each; the rates are this machine's.
 */
import { expect, test } from 'vitest';
import { BacnetPort } from '../../../agent/sources/bacnet/port.ts';
import { readMany } from '../../../agent/sources/bacnet/questions.ts';
import { systemTimers } from '../../../agent/sources/timers.ts';
import { BacnetDevice, freeUdpPort, stackOf, TAG } from '../../contract/sources/bacnet-device.ts';

const OBJECTS = 20;
const TIMES = 100;
const SUM = (OBJECTS * (OBJECTS - 1)) / 2;
const clock = { now: () => Date.now(), monotonic: () => performance.now() };
const objects = Array.from({ length: OBJECTS }, (_, instance) => ({ type: 0, instance }));

/** Objects a second; `read` answers the sum of the values, which says that they were read. */
async function best(read: () => Promise<number>): Promise<number> {
  let least = Number.POSITIVE_INFINITY;
  for (let round = 0; round < 10; round += 1) {
    const since = performance.now();
    for (let i = 0; i < TIMES; i += 1) expect(await read()).toBe(SUM);
    least = Math.min(least, performance.now() - since);
  }
  return (1000 * TIMES * OBJECTS) / least;
}

test('20 objects of three properties in a request', async () => {
  const device = new BacnetDevice({ stack: 'node-bacnet', host: '127.0.0.14', instance: 1 });
  for (const { instance } of objects) device.putPoint(`analog-input:${instance}`, { type: TAG.real, value: instance });
  await device.listen();

  const owner = {};
  const random = Math.random;
  const port = new BacnetPort({ local: { host: '127.0.0.1', port: 0 }, clock, timers: systemTimers, random });
  await port.attach(owner);
  const address = { host: device.host, port: device.port, network: null, mac: new Uint8Array(0) };
  const asks = objects.map((object) => ({ object, properties: [85, 111, 103] }));
  const ours = await best(async () => {
    const outcome = await port.exchange(address, { owner, timeoutMs: 5000, ...readMany(asks) });
    if (outcome.kind !== 'reply') throw new Error(JSON.stringify(outcome));
    const values = outcome.value.map(([answer]) => (answer?.ok === true ? answer.values[0] : undefined));
    return values.reduce((sum, value) => sum + (value?.type === 'real' ? (value.value ?? 0) : 0), 0);
  });
  await port.release(owner);

  const options = { interface: '127.0.0.1', port: await freeUdpPort('127.0.0.1'), broadcastAddress: '127.255.255.255' };
  const client = new (stackOf('@bacnet-js/client'))(options) as unknown as {
    readPropertyMultiple(
      to: object,
      asks: object[],
    ): Promise<{ values: { values: { value: { value: number }[] }[] }[] }>;
    close(): void;
  };
  const theirAsks = objects.map((objectId) => ({ objectId, properties: [85, 111, 103].map((id) => ({ id })) }));
  const theirs = await best(async () => {
    const { values } = await client.readPropertyMultiple({ address: device.address }, theirAsks);
    return values.reduce((sum, one) => sum + (one.values[0]?.value[0]?.value ?? 0), 0);
  });
  client.close();
  await device.close();

  const figures = { ours: Math.round(ours), theirs: Math.round(theirs), ratio: Number((ours / theirs).toFixed(2)) };
  console.info(`objects a second: ${JSON.stringify(figures)}`);
});
