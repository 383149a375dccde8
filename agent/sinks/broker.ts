/**
 * The demo's MQTT broker, in the agent's own process, on loopback alone. It speaks MQTT 3.1.1 and keeps nothing over a
 * restart: real sites bring a broker.
 */
import { createServer, type Server, type Socket } from 'node:net';
import { Aedes } from 'aedes';
import { assert } from '../base/result.ts';

export interface BrokerOptions {
  /** 0: a free one. */
  readonly port?: number;
  /** Where given, the only user; without it everybody on this machine may connect. */
  readonly user?: { readonly name: string; readonly password: string };
}

export interface Broker {
  readonly port: number;
  readonly url: string;
  stop(): Promise<void>;
}

export async function startBroker({ port = 0, user }: BrokerOptions = {}): Promise<Broker> {
  const aedes = await Aedes.createBroker(
    user === undefined
      ? {}
      : {
          authenticate: (_client, name, password, done) =>
            done(null, name === user.name && password?.toString() === user.password),
        },
  );
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on('close', () => sockets.delete(socket));
    aedes.handle(socket);
  });
  await listen(server, port);
  const address = server.address();
  assert(address !== null && typeof address === 'object', 'a TCP server has a port');
  let stopped: Promise<void> | null = null;
  const stop = async (): Promise<void> => {
    await new Promise<void>((resolve) => aedes.close(() => resolve()));
    for (const socket of sockets) socket.destroy();
    await new Promise<void>((resolve) => server.close(() => resolve()));
  };
  return {
    port: address.port,
    url: `mqtt://127.0.0.1:${address.port}`,
    stop: () => {
      stopped ??= stop();
      return stopped;
    },
  };
}

function listen(server: Server, port: number): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once('error', reject);
    server.listen(port, '127.0.0.1', () => resolve());
  });
}
