import { createSocket } from 'node:dgram';
import { refusal } from './gate.ts';
import type { Endpoint } from './network.ts';

/** A bound datagram socket, whatever carries it. */
export interface Datagrams {
  /** Port it is bound to. */
  readonly port: number;
  /** Null when it left, else why it did not; never rejects. */
  send(bytes: Uint8Array, to: Endpoint): Promise<string | null>;
  /** Resolves when what was given to `send` has left and the descriptor is free. */
  close(): Promise<void>;
}

/** Binds, or rejects with the reason. `broken` is called when the socket fails afterwards. */
export type OpenDatagrams = (options: {
  host: string;
  port: number;
  received: (bytes: Uint8Array, from: Endpoint) => void;
  broken: (reason: string) => void;
}) => Promise<Datagrams>;

/**
 * The only place of the source that sends. Every datagram passes the gate here, whoever made it; one that the gate
 * refuses is a broken claim of the program and stays inside.
 */
export const openUdp: OpenDatagrams = async ({ host, port, received, broken }) => {
  // every host is an address already: nothing is looked up
  const socket = createSocket({ type: 'udp4', lookup: (name, _options, done) => done(null, name, 4) });
  await new Promise<void>((resolve, reject) => {
    socket.once('error', (error) => {
      socket.close();
      reject(new Error(`UDP port ${port} of ${host} cannot be bound: ${codeOf(error)}`));
    });
    socket.bind({ address: host, port, exclusive: true }, resolve);
  });
  socket.removeAllListeners('error');
  socket.on('error', (error) => broken(codeOf(error)));
  socket.on('message', (bytes, { address, port: from }) => received(bytes, { host: address, port: from }));
  socket.setBroadcast(true);
  const leaving = new Set<Promise<unknown>>();
  let closed: Promise<void> | null = null;
  return {
    port: socket.address().port,
    send(bytes, to) {
      const why = refusal(bytes);
      if (why !== null) return Promise.resolve(`kept back: ${why}`);
      if (closed !== null) return Promise.resolve('the socket is closed');
      const sent = new Promise<string | null>((resolve) => {
        socket.send(bytes, to.port, to.host, (error) => resolve(error === null ? null : codeOf(error)));
      });
      leaving.add(sent);
      void sent.then(() => leaving.delete(sent));
      return sent;
    },
    close() {
      closed ??= Promise.all(leaving).then(() => new Promise<void>((resolve) => socket.close(resolve)));
      return closed;
    },
  };
};

function codeOf(error: Error): string {
  return 'code' in error && typeof error.code === 'string' ? error.code : error.message;
}
