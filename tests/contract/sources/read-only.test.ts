/**
 * Nothing but the four reading functions leaves the port. The requests come from modbus-serial's client, an encoder
 * that is not ours and knows how to write: it is put on the connection as its port, and a raw server notes every byte
 * that arrives.
 */
import { EventEmitter } from 'node:events';
import { createServer, type Socket } from 'node:net';
import modbusSerial from 'modbus-serial';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { TransactionIds } from '../../../agent/sources/modbus/mbap.ts';
import { tcpConnect } from '../../../agent/sources/modbus/tcp.ts';
import type { ModbusConnection } from '../../../agent/sources/modbus/transport.ts';
import { answer, held, LyingServer } from '../../fault/sources/lying-server.ts';
import { FakeTime, seeded, settled, until } from '../../unit/sources/fake-time.ts';

// a CommonJS package whose types speak of an ES module's default
const ModbusRTU = modbusSerial.default;
type ModbusRTU = InstanceType<typeof ModbusRTU>;

/** CRC-16 of MODBUS over Serial Line V1.02, section 6.2.2: the client expects serial frames from a port. */
function crc16(bytes: Uint8Array): number {
  let crc = 0xffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let i = 0; i < 8; i += 1) crc = crc & 1 ? (crc >> 1) ^ 0xa001 : crc >> 1;
  }
  return crc;
}

/** Our connection in the shape that modbus-serial's client takes as a port. */
class PortOverConnection extends EventEmitter {
  readonly isOpen = true;
  readonly refused: string[] = [];
  readonly #connection: ModbusConnection;

  constructor(connection: ModbusConnection) {
    super();
    this.#connection = connection;
  }

  open(callback: (error: null) => void): void {
    callback(null);
  }

  close(callback: (error: null) => void): void {
    callback(null);
  }

  write(frame: Buffer): void {
    const unit = frame[0]!;
    const pdu = frame.subarray(1, -2);
    void this.#connection.exchange({ unit, pdu, timeoutMs: 1000 }).then((outcome) => {
      if (outcome.kind === 'refused') this.refused.push(outcome.reason);
      if (outcome.kind !== 'reply') return;
      const reply = Buffer.from([unit, pdu[0]!, outcome.data.length, ...outcome.data, 0, 0]);
      reply.writeUInt16LE(crc16(reply.subarray(0, -2)), reply.length - 2);
      this.emit('data', reply);
    });
  }
}

let arrived: Buffer;
let sockets: Socket[];
let server: ReturnType<typeof createServer>;
let connection: ModbusConnection;
const time = new FakeTime();

async function open(port: number): Promise<ModbusConnection> {
  const connect = tcpConnect({ host: '127.0.0.1', port, timers: time, ids: new TransactionIds(seeded(11)) });
  const opened = await connect({ timeoutMs: 1000, signal: new AbortController().signal });
  if (!opened.ok) throw new Error(opened.reason);
  return opened.connection;
}

beforeEach(async () => {
  arrived = Buffer.alloc(0);
  sockets = [];
  server = createServer((socket) => {
    sockets.push(socket);
    socket.on('error', () => {});
    socket.on('data', (chunk) => {
      arrived = Buffer.concat([arrived, chunk]);
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  connection = await open((server.address() as { port: number }).port);
});

afterEach(async () => {
  await connection.close();
  for (const socket of sockets) socket.destroy();
  await new Promise((resolve) => server.close(resolve));
});

function client(port: PortOverConnection): ModbusRTU {
  const library = new ModbusRTU(port);
  library.open(() => {});
  library.setID(1);
  library.setTimeout(1);
  return library;
}

describe('every call of the library that is no reading of registers or bits: not one byte leaves', () => {
  // what the library's type description leaves out is called by name
  type Call = (library: ModbusRTU & Record<string, Untyped>) => Promise<unknown>;
  type Untyped = (...values: unknown[]) => Promise<unknown>;
  const calls: Record<string, Call> = {
    writeCoil: (library) => library.writeCoil(1, true),
    writeCoils: (library) => library.writeCoils(1, [true, false, true]),
    writeRegister: (library) => library.writeRegister(1, 7),
    writeRegisterEnron: (library) => library.writeRegisterEnron(1, 7),
    writeRegisters: (library) => library.writeRegisters(1, [7, 8]),
    maskWriteRegister: (library) => library.maskWriteRegister(1, 0xff00, 0x0012),
    readWriteRegisters: (library) => library['readWriteRegisters']!(0, 2, 1, 2, [7, 8]),
    readFileRecords: (library) => library['readFileRecords']!(1, 1),
    // its type names one argument, its code takes two
    reportServerID: (library) => (library['reportServerID'] as Untyped)(1, 0),
    readDeviceIdentification: (library) => library.readDeviceIdentification(1, 0),
    customFunction: (library) => library.customFunction(0x64, [1, 2, 3, 4]),
  };
  test.each(Object.keys(calls))('%s', async (name) => {
    const port = new PortOverConnection(connection);
    const library = client(port) as Parameters<Call>[0];
    await expect(calls[name]!(library)).rejects.toBeDefined();
    await settled();
    expect(port.refused.length).toBe(1);
    expect(arrived.length).toBe(0);
    expect(connection.usable).toBe(true);
  });

  test('the list above is every call of the library that sends', () => {
    const library = new ModbusRTU(new PortOverConnection(connection)) as unknown as Record<string, unknown>;
    const sends = new Set<string>();
    for (const at of [library, Object.getPrototypeOf(library)]) {
      for (const name of Object.getOwnPropertyNames(at))
        if (/^(write|read|mask|report|custom)/.test(name)) sends.add(name);
    }
    const reads = [
      'readCoils',
      'readDiscreteInputs',
      'readHoldingRegisters',
      'readInputRegisters',
      'readRegistersEnron',
    ];
    const promised = [...sends].filter((name) => !/^write(FC\d+|CustomFC)$/.test(name));
    expect(promised.sort()).toEqual([...reads, ...Object.keys(calls)].sort());
  });
});

test('of all 256 function codes, in a request of the right length, 1 to 4 alone leave', async () => {
  for (let code = 0; code <= 255; code += 1) {
    const one = await open((server.address() as { port: number }).port);
    const outcome = one.exchange({ unit: 1, pdu: Uint8Array.of(code, 0, 0, 0, 1), timeoutMs: 1000 });
    if (code >= 1 && code <= 4) await until(() => arrived.length > 0);
    else expect(await outcome).toEqual({ kind: 'refused', reason: `function code ${code} is no reading function` });
    await settled();
    expect([code, arrived.length]).toEqual([code, code >= 1 && code <= 4 ? 12 : 0]);
    if (arrived.length > 0) expect(arrived[7]).toBe(code);
    arrived = Buffer.alloc(0);
    await one.close();
    await outcome;
  }
});

test.each<[string, number[], RegExp]>([
  ['empty', [], /function code none/],
  ['too short', [3, 0, 0, 0], /4 bytes/],
  ['too long: a writing request behind a reading code', [3, 0, 0, 0, 1, 2, 0, 7], /8 bytes/],
  ['no registers', [3, 0, 0, 0, 0], /count of 0/],
  ['126 input registers', [4, 0, 0, 0, 126], /count of 126 is outside 1 to 125/],
  ['126 holding registers', [3, 0, 0, 0, 126], /count of 126 is outside 1 to 125/],
  ['2001 discrete inputs', [2, 0, 0, 0x07, 0xd1], /count of 2001 is outside 1 to 2000/],
  ['2001 coils', [1, 0, 0, 0x07, 0xd1], /count of 2001 is outside 1 to 2000/],
  ['beyond the last register', [3, 0xff, 0xff, 0, 2], /reach beyond 65535/],
])('a malformed reading request does not leave either: %s', async (_, pdu, reason) => {
  const outcome = await connection.exchange({ unit: 1, pdu: Uint8Array.from(pdu), timeoutMs: 1000 });
  expect(outcome).toMatchObject({ kind: 'refused', reason: expect.stringMatching(reason) });
  await settled();
  expect(arrived.length).toBe(0);
});

test("the library's four reading calls pass and read right over the same port", async () => {
  const honest = await LyingServer.listen();
  honest.behaviour = answer;
  const one = await open(honest.port);
  const library = client(new PortOverConnection(one));
  library.setTimeout(60_000);
  const at = (code: number) => [5, 6, 7].map((register) => held({ unit: 1, code, register }));
  expect((await library.readHoldingRegisters(5, 3)).data).toEqual(at(3));
  expect((await library.readInputRegisters(5, 3)).data).toEqual(at(4));
  expect((await library.readCoils(5, 3)).data.slice(0, 3)).toEqual(at(1).map((value) => (value & 1) === 1));
  expect((await library.readDiscreteInputs(5, 3)).data.slice(0, 3)).toEqual(at(2).map((value) => (value & 1) === 1));
  // a last byte that is full, and one that is begun
  for (const count of [1, 7, 8, 9, 15, 16, 17, 2000]) {
    const bits = Array.from({ length: count }, (_, i) => (held({ unit: 1, code: 1, register: i }) & 1) === 1);
    expect((await library.readCoils(0, count)).data.slice(0, count)).toEqual(bits);
  }
  await one.close();
  await honest.close();
});
