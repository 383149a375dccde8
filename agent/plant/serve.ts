/** The controller of a plant's machine on its bus. */
import { LIMITS } from '../base/limits.ts';
import { ObjectTable } from './bacnet/objects.ts';
import { BacnetServer } from './bacnet/server.ts';
import { MACHINES } from './kestrel-quay/machines.ts';
import { ModbusServer } from './modbus-server.ts';
import type { Plant } from './plant.ts';
import { RegisterImage } from './registers.ts';
import type { Address } from './settings.ts';

export interface Served {
  start(): Promise<void>;
  /** Follows the plant: values on the bus, and whether the controller is to be reached. */
  update(): Promise<void>;
  stop(): Promise<void>;
  /** What is printed once it serves. */
  described(): Record<string, unknown>;
}

/** `now`: monotonic ms. */
export function serverOf(plant: Plant, at: Address, now: () => number): Served {
  const bacnet = MACHINES[plant.machine.name]?.bacnet ?? null;
  return bacnet === null ? modbusServer(plant, at) : bacnetServer(plant, { at, now, bacnet });
}

function modbusServer(plant: Plant, at: Address): Served {
  const image = new RegisterImage(plant.machine.points);
  const server = new ModbusServer(image, at);
  const update = async (): Promise<void> => {
    image.update(plant.sensors.values());
    await server.communicate(plant.communication);
  };
  return {
    start: async () => {
      image.update(plant.sensors.values());
      await server.start();
      await update();
    },
    update,
    stop: () => server.stop(),
    described: () => ({ modbus: `${server.host}:${server.port}` }),
  };
}

interface BacnetParts {
  readonly at: Address;
  readonly now: () => number;
  readonly bacnet: NonNullable<(typeof MACHINES)[string]['bacnet']>;
}

function bacnetServer(plant: Plant, { at, now, bacnet }: BacnetParts): Served {
  const { machine, sensors } = plant;
  const table = new ObjectTable(machine.points, bacnet.extras(machine), bacnet.device);
  const limits = { subscriptions: LIMITS.plant_bacnet_subscriptions_max, replies: LIMITS.plant_bacnet_replies_max };
  const server = new BacnetServer(table, { ...at, limits, now });
  const update = async (): Promise<void> => {
    table.update(sensors);
    await server.communicate(plant.communication);
  };
  return {
    start: async () => {
      table.update(sensors);
      await server.start();
      await update();
    },
    update,
    stop: () => server.stop(),
    described: () => ({ bacnet: `${server.host}:${server.port}`, device: bacnet.device.instance }),
  };
}
