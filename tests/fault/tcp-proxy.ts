/**
 * A TCP proxy on loopback that can do to a connection what networks do: pass it, freeze it (half-open: nothing comes,
 * nothing ends), cut it (reset), or refuse new ones. Listens on a free port that stays the same for its whole life.
 */
import { createConnection, createServer, type Socket } from 'node:net';
import { setImmediate } from 'node:timers/promises';

interface Pair {
  readonly client: Socket;
  readonly server: Socket;
  frozen: boolean;
}

export interface TcpProxy {
  readonly port: number;
  /** Connections accepted so far, refused ones included. */
  readonly accepted: () => number;
  readonly open: () => number;
  /** New connections go through again. */
  pass(): void;
  /** Existing connections go dead without an end; new ones pass. */
  freeze(): void;
  /** Existing connections are reset; new ones pass. */
  cut(): void;
  /** Existing connections are reset and new ones too, at once. */
  refuse(): void;
  /** Where new connections go from now on. */
  aim(port: number): void;
  stop(): Promise<void>;
}

export async function startProxy(target: number): Promise<TcpProxy> {
  let port = target;
  let refusing = false;
  let accepted = 0;
  const pairs = new Set<Pair>();

  const end = (pair: Pair): void => {
    pairs.delete(pair);
    for (const socket of [pair.client, pair.server]) if (!socket.destroyed) socket.resetAndDestroy();
  };
  const listener = createServer((client) => {
    accepted++;
    client.on('error', () => {});
    if (refusing) {
      client.resetAndDestroy();
      return;
    }
    const pair: Pair = { client, server: createConnection(port, '127.0.0.1'), frozen: false };
    pairs.add(pair);
    for (const [from, to] of [
      [pair.client, pair.server],
      [pair.server, pair.client],
    ] as const) {
      from.on('error', () => {});
      from.on('data', (data) => {
        if (!pair.frozen) to.write(data);
      });
      // While frozen, the ends do not hear of each other.
      from.on('close', () => {
        if (!pair.frozen) end(pair);
      });
    }
  });
  await new Promise<void>((resolve) => listener.listen(0, '127.0.0.1', () => resolve()));
  const address = listener.address();
  if (address === null || typeof address === 'string') throw new Error('a TCP server has a port');
  return {
    port: address.port,
    accepted: () => accepted,
    open: () => pairs.size,
    pass: () => {
      refusing = false;
    },
    freeze: () => {
      for (const pair of pairs) pair.frozen = true;
    },
    cut: () => {
      for (const pair of pairs) end(pair);
    },
    refuse: () => {
      refusing = true;
      for (const pair of pairs) end(pair);
    },
    aim: (next) => {
      port = next;
    },
    stop: async () => {
      for (const pair of pairs) end(pair);
      await new Promise<void>((resolve) => listener.close(() => resolve()));
      await setImmediate();
    },
  };
}
