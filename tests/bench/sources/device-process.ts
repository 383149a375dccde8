/**
 * The served device of the bench, in a thread of its own so that it does not share the reader's core: says its port,
 * then serves until ended.
 */
import { parentPort, workerData } from 'node:worker_threads';
import { ForeignDevice } from '../../contract/sources/foreign-device.ts';
import { LyingServer } from '../../fault/sources/lying-server.ts';

if (workerData === 'modbus-serial') {
  const device = new ForeignDevice([1]);
  const words = Array.from({ length: 125 }, (_, i) => 1000 + i);
  device.put({ unit: 1, table: 'holding', register: 0, words });
  await device.listen();
  parentPort?.postMessage(device.port);
} else {
  const server = await LyingServer.listen();
  // memory is not what this is about
  setInterval(() => server.forget(), 50).unref();
  parentPort?.postMessage(server.port);
}
