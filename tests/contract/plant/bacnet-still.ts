/** CH-2 at rest behind its BACnet server, and a client of another stack that reads it. */
import { ObjectTable } from '../../../agent/plant/bacnet/objects.ts';
import { BacnetServer } from '../../../agent/plant/bacnet/server.ts';
import { InterstageMachine } from '../../../agent/plant/interstage-machine.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import { CH2_DEVICE, CH2_POINTS } from '../../../agent/plant/kestrel-quay/ch2-points.ts';
import { Plant } from '../../../agent/plant/plant.ts';
import type { BacnetPoint } from '../../../agent/plant/point-map.ts';
import { type ForeignClient, foreignClient, foreignTable, type ObjectId } from './bacnet-client.ts';

const KINDS = foreignTable('@bacnet-js/client', 'ObjectType');
const PROPERTIES = foreignTable('@bacnet-js/client', 'PropertyIdentifier');
export const property = (name: string): number => PROPERTIES[name]!;

/** What the test began and `endAll` ends. */
export const ends: (() => unknown)[] = [];

export async function endAll(): Promise<void> {
  for (const end of ends.splice(0).reverse()) await end();
}

const KIND_NAMES: Record<string, string> = {
  'analog-input': 'ANALOG_INPUT',
  'analog-value': 'ANALOG_VALUE',
  'binary-input': 'BINARY_INPUT',
  'binary-value': 'BINARY_VALUE',
  'multi-state-input': 'MULTI_STATE_INPUT',
  'multi-state-value': 'MULTI_STATE_VALUE',
};
export const idOf = ({ object }: BacnetPoint): ObjectId => ({
  type: KINDS[KIND_NAMES[object.kind]!]!,
  instance: object.instance,
});
export const pointOf = (name: string): BacnetPoint => CH2_POINTS.find((point) => point.name === name)!;
export const DEVICE = { type: KINDS['DEVICE']!, instance: CH2_DEVICE.instance };

/** A plant that stands still behind its server, and a client of it. */
export async function still() {
  const machine = new InterstageMachine(CH2, 2);
  const plant = new Plant({ machine, seed: 2, start: Date.UTC(2026, 6, 1, 14), faults: [], warmUp: 1800 });
  const table = new ObjectTable(machine.points, [], CH2_DEVICE);
  table.update(plant.sensors);
  const limits = { subscriptions: 4, replies: 4 };
  const server = new BacnetServer(table, { host: '127.0.0.21', port: 0, limits, now: () => performance.now() });
  await server.start();
  ends.push(() => server.stop());
  const client = await foreignClient('127.0.0.31');
  ends.push(() => client.close());
  return { plant, table, server, client, to: { address: `127.0.0.21:${server.port}` } };
}

export async function readOne(
  client: ForeignClient,
  to: { address: string },
  id: ObjectId,
  name: string,
): Promise<unknown> {
  return (await client.readProperty(to, id, property(name))).values[0]?.value;
}
