/**
 * A peer that answers MQTT 5.0 as a script says, byte by byte and without the library under test (MQTT Version 5.0,
 * OASIS Standard, sections 2.1, 3.1 to 3.4). It can refuse, give reason codes, allow little, or say nothing.
 */
import { createServer, type Socket } from 'node:net';
import { onTestFinished } from 'vitest';

export interface Published {
  readonly connection: number;
  readonly packetId: number;
  readonly topic: string;
  readonly payload: string;
  readonly retain: boolean;
}

export interface Script {
  /** Reason code of CONNACK. */
  readonly connack?: (connection: number) => number;
  /** Properties of CONNACK, as bytes. */
  readonly properties?: readonly number[];
  /** Reason code of PUBACK, or null: no answer. */
  readonly puback?: (published: Published) => number | null;
}

export interface ScriptedBroker {
  readonly port: number;
  readonly published: readonly Published[];
  readonly connections: () => number;
  /** Most publications that stood unanswered at one moment. */
  readonly unanswered: () => number;
  /** Answers, oldest first, what the script left without an answer. */
  answerOne(): void;
}

export async function startScripted(script: Script): Promise<ScriptedBroker> {
  const published: Published[] = [];
  const open: { socket: Socket; packetId: number }[] = [];
  let connections = 0;
  let most = 0;

  const serve = (socket: Socket): void => {
    const connection = ++connections;
    let received = Buffer.alloc(0);
    socket.on('error', () => {});
    socket.on('data', (data) => {
      received = Buffer.concat([received, data]);
      for (let packet = firstPacket(received); packet !== null; packet = firstPacket(received)) {
        received = received.subarray(packet.size);
        answer(packet.type, packet.flags, packet.body);
      }
    });
    const answer = (type: number, flags: number, body: Buffer): void => {
      if (type === 1) {
        const reason = script.connack?.(connection) ?? 0;
        const properties = script.properties ?? [];
        socket.write(Buffer.from([0x20, 3 + properties.length, 0, reason, properties.length, ...properties]));
        if (reason >= 0x80) socket.end();
      } else if (type === 3) {
        const found = publication(connection, flags, body);
        published.push(found);
        const reason = (script.puback ?? (() => 0))(found);
        if (reason === null) open.push({ socket, packetId: found.packetId });
        else acknowledge(socket, found.packetId, reason);
        most = Math.max(most, open.filter((each) => each.socket === socket).length);
      } else if (type === 12) socket.write(Buffer.from([0xd0, 0]));
      else if (type === 14) socket.end();
    };
  };
  const server = createServer(serve);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', () => resolve()));
  onTestFinished(() => void server.close());
  const address = server.address() as { port: number };
  return {
    port: address.port,
    published,
    connections: () => connections,
    unanswered: () => most,
    answerOne: () => {
      const next = open.shift();
      if (next !== undefined) acknowledge(next.socket, next.packetId, 0);
    },
  };
}

function acknowledge(socket: Socket, packetId: number, reason: number): void {
  socket.write(Buffer.from([0x40, 3, packetId >> 8, packetId & 0xff, reason]));
}

/** Variable byte integer: seven bits a byte, least first (section 1.5.5). */
function variable(buffer: Buffer, at: number): { value: number; size: number } | null {
  let value = 0;
  for (let size = 0; size < 4; size++) {
    const byte = buffer[at + size];
    if (byte === undefined) return null;
    value += (byte & 0x7f) << (7 * size);
    if (byte < 0x80) return { value, size: size + 1 };
  }
  throw new Error('malformed length');
}

function firstPacket(buffer: Buffer): { type: number; flags: number; body: Buffer; size: number } | null {
  const length = buffer.length < 2 ? null : variable(buffer, 1);
  if (length === null) return null;
  const begin = 1 + length.size;
  const size = begin + length.value;
  const head = buffer[0] as number;
  return buffer.length < size ? null : { type: head >> 4, flags: head & 15, body: buffer.subarray(begin, size), size };
}

function publication(connection: number, flags: number, body: Buffer): Published {
  const topicEnd = 2 + body.readUInt16BE(0);
  const properties = variable(body, topicEnd + 2) ?? { value: 0, size: 0 };
  return {
    connection,
    packetId: body.readUInt16BE(topicEnd),
    topic: body.toString('utf8', 2, topicEnd),
    payload: body.toString('utf8', topicEnd + 2 + properties.size + properties.value),
    retain: (flags & 1) === 1,
  };
}
