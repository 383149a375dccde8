/**
 * The controller's Modbus TCP side: answers reads from the register image, refuses everything else, and can fall silent
 * or away.
 */
import { createServer } from 'node:net';
import { ServerTCP } from 'modbus-serial';
import type { Communication } from './faults.ts';
import type { RegisterTable } from './point-map.ts';
import type { RegisterImage } from './registers.ts';

/** Exception codes of the Modbus Application Protocol V1.1b3, section 7. */
const ILLEGAL_FUNCTION = 1;
const ILLEGAL_ADDRESS = 2;
const TARGET_DID_NOT_RESPOND = 11;

class ModbusException extends Error {
  readonly modbusErrorCode: number;
  constructor(code: number) {
    super(`exception ${code}`);
    this.modbusErrorCode = code;
  }
}

type One = (error: Error | null, value: number) => void;
type Many = (error: Error | null, values: number[]) => void;

/** A free port of this host; the library takes port 0 for 502. */
async function freePort(host: string): Promise<number> {
  const probe = createServer();
  await new Promise<void>((resolve, reject) => {
    probe.once('error', reject);
    probe.listen(0, host, resolve);
  });
  const address = probe.address();
  const port = typeof address === 'object' && address !== null ? address.port : 0;
  await new Promise<void>((resolve) => probe.close(() => resolve()));
  return port;
}

export class ModbusServer {
  readonly host: string;
  port: number;
  private readonly image: RegisterImage;
  private server: ServerTCP | null = null;
  private communication: Communication = 'up';

  constructor(image: RegisterImage, options: { host: string; port: number }) {
    this.image = image;
    this.host = options.host;
    this.port = options.port;
  }

  async start(): Promise<void> {
    if (this.port === 0) this.port = await freePort(this.host);
    await this.open();
  }

  async stop(): Promise<void> {
    const server = this.server;
    this.server = null;
    if (server === null) return;
    await new Promise<void>((resolve) => server.close(() => resolve()));
  }

  /** Follows the plant's fault: up, silent (accepts, never answers), refused (nobody listens). */
  async communicate(now: Communication): Promise<void> {
    if (now === this.communication) return;
    this.communication = now;
    if (now === 'refused') await this.stop();
    else if (this.server === null) await this.open();
  }

  private async open(): Promise<void> {
    const server = new ServerTCP(this.handlers(), { host: this.host, port: this.port, unitID: 255 });
    await new Promise<void>((resolve, reject) => {
      server.on('initialized', () => resolve());
      server.on('serverError', (error) => reject(error));
    });
    // A client that resets its connection is its own affair.
    server.on('socketError', () => {});
    this.server = server;
  }

  private read(table: RegisterTable, address: number, length: number, unitId: number): number[] {
    if (!this.image.hasUnit(unitId)) throw new ModbusException(TARGET_DID_NOT_RESPOND);
    const values: number[] = [];
    for (let i = 0; i < length; i++) {
      const value = this.image.read(unitId, table, address + i);
      if (value === undefined) throw new ModbusException(ILLEGAL_ADDRESS);
      values.push(value);
    }
    return values;
  }

  /**
   * Callback forms throughout: a callback never called is the only way to stay silent here. The library gives an
   * exception thrown in a callback handler to nobody, so everything is caught. Handlers for writes must exist: without
   * one there would be no reply at all.
   */
  private handlers() {
    const one = (table: RegisterTable) => (address: number, unitId: number, reply: One) => {
      this.answer(reply, () => this.read(table, address, 1, unitId)[0] as number);
    };
    const many = (table: RegisterTable) => (address: number, length: number, unitId: number, reply: Many) => {
      this.answer(reply, () => this.read(table, address, length, unitId));
    };
    const refuse = (reply: (error: Error, value: never) => void) =>
      this.answer(reply as (error: Error | null, value: never) => void, () => {
        throw new ModbusException(ILLEGAL_FUNCTION);
      });
    return {
      getHoldingRegister: one('holding'),
      getInputRegister: one('input'),
      getMultipleHoldingRegisters: many('holding'),
      getMultipleInputRegisters: many('input'),
      getCoil: (_address: number, _unitId: number, reply: (error: Error | null, value: boolean) => void) =>
        refuse(reply),
      getDiscreteInput: (_address: number, _unitId: number, reply: (error: Error | null, value: boolean) => void) =>
        refuse(reply),
      setCoil: (_address: number, _value: boolean, _unitId: number, reply: (error: Error | null) => void) =>
        refuse(reply),
      setRegister: (_address: number, _value: number, _unitId: number, reply: (error: Error | null) => void) =>
        refuse(reply),
      setRegisterArray: (_address: number, _values: number[], _unitId: number, reply: (error: Error | null) => void) =>
        refuse(reply),
    };
  }

  private answer<T>(reply: (error: Error | null, value: T) => void, compute: () => T): void {
    if (this.communication !== 'up') return;
    let value: T;
    try {
      value = compute();
    } catch (error) {
      reply(error as Error, 0 as T);
      return;
    }
    reply(null, value);
  }
}
