/**
 * A Modbus TCP device served by modbus-serial, which shares no code with the poller: tables of several units that tests
 * fill.
 */
import { createServer } from 'node:net';
import { ServerTCP } from 'modbus-serial';

type Table = 'input' | 'holding' | 'coil' | 'discrete';

const ILLEGAL_ADDRESS = Object.assign(new Error('illegal address'), { modbusErrorCode: 2 });
const NO_TARGET = Object.assign(new Error('no such unit'), { modbusErrorCode: 11 });

async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  await new Promise((resolve) => server.close(resolve));
  if (address === null || typeof address === 'string') throw new Error('no port');
  return address.port;
}

export class ForeignDevice {
  writes = 0;
  port = 0;
  readonly #words = new Map<string, number>();
  readonly #units: ReadonlySet<number>;
  #server: ServerTCP | null = null;

  constructor(units: readonly number[]) {
    this.#units = new Set(units);
  }

  /** Sets registers (or bits) of a table from an address on. */
  put(options: { unit: number; table: Table; register: number; words: readonly number[] }): void {
    const { unit, table, register, words } = options;
    for (const [i, word] of words.entries()) this.#words.set(`${unit} ${table} ${register + i}`, word & 0xffff);
  }

  async listen(): Promise<void> {
    if (this.port === 0) this.port = await freePort();
    const get =
      (table: Table) =>
      (register: number, unit: number): number => {
        if (!this.#units.has(unit)) throw NO_TARGET;
        const word = this.#words.get(`${unit} ${table} ${register}`);
        if (word === undefined) throw ILLEGAL_ADDRESS;
        return word;
      };
    const bit = (table: Table) => (register: number, unit: number) => get(table)(register, unit) !== 0;
    const written = (): void => {
      this.writes += 1;
    };
    const server = new ServerTCP(
      {
        getInputRegister: get('input'),
        getHoldingRegister: get('holding'),
        getCoil: bit('coil'),
        getDiscreteInput: bit('discrete'),
        setRegister: written,
        setCoil: written,
        setRegisterArray: written,
      },
      { host: '127.0.0.1', port: this.port, unitID: 255 },
    );
    await new Promise<void>((resolve, reject) => {
      server.on('initialized', () => resolve());
      server.on('serverError', reject);
    });
    server.on('socketError', () => {});
    this.#server = server;
  }

  async close(): Promise<void> {
    const server = this.#server;
    this.#server = null;
    if (server !== null) await new Promise<void>((resolve) => server.close(() => resolve()));
  }
}

/** The 16-bit words of a value, most significant first, by Node's own writer. */
export function words(write: (buffer: Buffer) => void, bytes: number): number[] {
  const buffer = Buffer.alloc(bytes);
  write(buffer);
  return Array.from({ length: bytes / 2 }, (_, i) => buffer.readUInt16BE(2 * i));
}
