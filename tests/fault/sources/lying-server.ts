/**
 * A Modbus TCP server for tests, from raw sockets and the published layout alone, that answers as it is told: rightly,
 * late, twice, in pieces, not at all, or with one field changed. It shares no code with the poller.
 */
import { createServer, type Server, type Socket } from 'node:net';

export interface Asked {
  readonly id: number;
  readonly unit: number;
  readonly code: number;
  readonly register: number;
  readonly count: number;
  /** Which connection, from 0. */
  readonly connection: number;
  /** Which request since the server began, from 0. */
  readonly index: number;
}

/** What the honest server holds at an address: depends on unit, function and address, so that a wrong block is seen. */
export function held(options: { unit: number; code: number; register: number }): number {
  const { unit, code, register } = options;
  return (unit * 7919 + code * 104_729 + register * 31 + 17) & 0xffff;
}

/**
 * The reply of MODBUS Application Protocol V1.1b3, 6.3 and 6.4 (registers), 6.1 and 6.2 (bits: bit 0 of the value
 * held).
 */
export function honest(asked: Asked): Buffer {
  const { id, unit, code, register, count } = asked;
  const bytes = code <= 2 ? Math.ceil(count / 8) : 2 * count;
  const frame = Buffer.alloc(9 + bytes);
  frame.writeUInt16BE(id, 0);
  frame.writeUInt16BE(3 + bytes, 4);
  frame[6] = unit;
  frame[7] = code;
  frame[8] = bytes;
  for (let i = 0; i < count; i += 1) {
    const value = held({ unit, code, register: register + i });
    if (code <= 2) frame[9 + (i >> 3)]! |= (value & 1) << (i & 7);
    else frame.writeUInt16BE(value, 9 + 2 * i);
  }
  return frame;
}

export function exception(asked: Asked, code: number): Buffer {
  const frame = Buffer.from([0, 0, 0, 0, 0, 3, asked.unit, asked.code | 0x80, code]);
  frame.writeUInt16BE(asked.id, 0);
  return frame;
}

export type Behaviour = (asked: Asked, socket: Socket, server: LyingServer) => void;

export const answer: Behaviour = (asked, socket) => {
  socket.write(honest(asked));
};

export const silence: Behaviour = () => {};

export class LyingServer {
  behaviour: Behaviour = answer;
  /** Every request that arrived. */
  readonly asked: Asked[] = [];
  readonly connections: Socket[] = [];
  /** Bytes that no reading request explains: must stay empty. */
  readonly unexplained: Buffer[] = [];
  onConnection: (socket: Socket) => void = () => {};
  #count = 0;
  readonly #server: Server;

  private constructor(server: Server) {
    this.#server = server;
  }

  static async listen(port = 0): Promise<LyingServer> {
    const server = createServer();
    const lying = new LyingServer(server);
    server.on('connection', (socket) => lying.#serve(socket));
    await new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen(port, '127.0.0.1', resolve);
    });
    return lying;
  }

  get port(): number {
    const address = this.#server.address();
    if (address === null || typeof address === 'string') throw new Error('not listening');
    return address.port;
  }

  get requests(): number {
    return this.#count;
  }

  get open(): number {
    return this.connections.filter((socket) => !socket.destroyed).length;
  }

  /** Forgets what was asked, to keep long runs small. */
  forget(): void {
    this.asked.length = 0;
    for (let i = this.connections.length - 1; i >= 0; i -= 1) {
      if (this.connections[i]!.destroyed) this.connections.splice(i, 1);
    }
  }

  async close(): Promise<void> {
    for (const socket of this.connections) socket.destroy();
    await new Promise((resolve) => this.#server.close(resolve));
  }

  #serve(socket: Socket): void {
    const connection = this.connections.push(socket) - 1;
    socket.setNoDelay(true);
    socket.on('error', () => {});
    let pending = Buffer.alloc(0);
    socket.on('data', (chunk) => {
      pending = Buffer.concat([pending, chunk]);
      while (pending.length >= 12) {
        const frame = pending.subarray(0, 12);
        pending = pending.subarray(12);
        const code = frame[7]!;
        if (frame.readUInt16BE(2) !== 0 || frame.readUInt16BE(4) !== 6 || code < 1 || code > 4) {
          this.unexplained.push(Buffer.from(frame));
          return;
        }
        const asked = {
          id: frame.readUInt16BE(0),
          unit: frame[6]!,
          code,
          register: frame.readUInt16BE(8),
          count: frame.readUInt16BE(10),
          connection,
          index: this.#count,
        };
        this.asked.push(asked);
        this.#count += 1;
        this.behaviour(asked, socket, this);
      }
    });
    this.onConnection(socket);
  }
}
