/** Starts the plant's command in this process and reads it as another program would. */
import { PassThrough, Readable } from 'node:stream';
import modbusSerial from 'modbus-serial';
import { command } from '../../../agent/commands/plant.ts';
import type { ModbusPoint } from '../../../agent/plant/point-map.ts';

const Client = modbusSerial.default;
export type Client = InstanceType<typeof Client>;

export interface Served {
  readonly host: string;
  readonly port: number;
  stop(): Promise<number>;
}

export function serve(...args: string[]): Promise<Served> {
  return serveMachine('--chiller', 'CH-1', '--modbus', '127.0.0.1:0', ...args);
}

export function serveBacnet(...args: string[]): Promise<Served> {
  return serveMachine('--chiller', 'CH-2', ...args);
}

async function serveMachine(...args: string[]): Promise<Served> {
  const out = new PassThrough();
  const err = new PassThrough();
  const stop = new AbortController();
  const done = command.run(args, { in: Readable.from([]), out, err, stop: stop.signal });
  const line = await Promise.race([
    new Promise<string>((resolve) => out.once('data', (chunk) => resolve(String(chunk)))),
    done.then((code) => {
      throw new Error(`ended with ${code}: ${String(err.read() ?? '')}`);
    }),
  ]);
  const { modbus, bacnet } = JSON.parse(line) as { modbus?: string; bacnet?: string };
  const address = modbus ?? bacnet ?? '';
  const at = address.lastIndexOf(':');
  return {
    host: address.slice(0, at),
    port: Number(address.slice(at + 1)),
    stop: () => {
      stop.abort();
      return done;
    },
  };
}

export async function connect(port: number, timeout = 5000): Promise<Client> {
  const client = new Client();
  client.setTimeout(timeout);
  await client.connectTCP('127.0.0.1', { port });
  return client;
}

/** Reads one point and decodes it by the map, without the plant's own encoder. */
export async function readPoint(client: Client, point: ModbusPoint): Promise<number> {
  client.setID(point.unitId);
  const count = point.type === 'float32' || point.type === 'uint32' ? 2 : 1;
  const read =
    point.table === 'holding'
      ? await client.readHoldingRegisters(point.register, count)
      : await client.readInputRegisters(point.register, count);
  const [first = 0, second = 0] = read.data;
  let raw = first;
  if (point.type === 'int16') raw = Buffer.from([first >> 8, first & 255]).readInt16BE();
  if (count === 2) {
    const [high, low] = point.order === 'CDAB' ? [second, first] : [first, second];
    const bytes = Buffer.from([high >> 8, high & 255, low >> 8, low & 255]);
    raw = point.type === 'float32' ? bytes.readFloatBE() : bytes.readUInt32BE();
  }
  return raw * point.scale + point.offset;
}
