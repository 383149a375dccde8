/**
 * A few readings of every point of a chiller, over its real bus: for whoever sets up a site. Uses the same sources as
 * the agent, so what is read here is what the agent will read.
 */
import { LIMITS } from './base/limits.ts';
import { fail, ok, type Result } from './base/result.ts';
import type { Otherwise } from './diagnosis/mistakes.ts';
import type { PointName } from './points/dictionary.ts';
import { type SampleTable, sampleTable } from './points/samples.ts';
import type { RawSample, SourceStatus } from './points/types.ts';
import { isBacnetAddress } from './site/addresses.ts';
import {
  MODBUS_ORDERS,
  MODBUS_TYPE_REGISTERS,
  type ModbusAddress,
  type ModbusOrder,
  type ModbusType,
} from './site/buses/modbus.ts';
import type { SitePoint } from './site/points.ts';
import type { ChillerSite } from './site/site.ts';
import { decode } from './sources/modbus/decode.ts';
import type { SourceMeans } from './sources/options.ts';
import { sourcesOf } from './sources-of.ts';

export interface ReadOptions {
  readonly chiller: ChillerSite;
  /** Readings of each point, and seconds between two of them. */
  readonly samples: number;
  readonly every_s: number;
  /** Also the registers just before and behind each point, to see what else might be meant. Modbus alone. */
  readonly around: boolean;
  readonly means: SourceMeans;
  readonly stop: AbortSignal;
}

export interface ReadChiller {
  readonly samples: SampleTable;
  /** ms since the epoch: the interval that holds every reading. */
  readonly from: number;
  readonly to: number;
  readonly link: SourceStatus;
  /** What else each point's registers could mean. */
  readonly otherwise: ReadonlyMap<PointName, readonly Otherwise[]>;
}

/** Settles when every point was asked `samples` times, or when it takes far too long. Faults: `source_settings`,
 * `source_start`. */
export async function readChiller(options: ReadOptions): Promise<Result<ReadChiller>> {
  const { chiller, samples, every_s, means, stop } = options;
  const { clock, timers } = means;
  const words = wordsOf(chiller.points, options.around);
  const asked: ChillerSite = { ...atPace(chiller, every_s), points: [...plain(chiller.points), ...words] };
  const source = sourcesOf(means)(asked);
  if (!source.ok) return source;
  const names = asked.points.map(({ name }) => name);
  const table = sampleTable(names);
  const left = new Map(names.map((name) => [name, samples]));
  const from = clock.now() - 1;
  let link = source.value.status();
  try {
    await new Promise<void>((resolve, reject) => {
      const patience_ms = 1000 * (samples + 2) * every_s + 3 * timeoutOf(asked) * Math.max(4, names.length / 10);
      const late = timers.after(patience_ms, resolve);
      const done = (): void => {
        late();
        resolve();
      };
      stop.addEventListener('abort', done, { once: true });
      const record = (sample: RawSample): void => {
        table.record(sample);
        const rest = (left.get(sample.point) ?? 0) - 1;
        if (rest > 0) left.set(sample.point, rest);
        else left.delete(sample.point);
        if (left.size === 0) done();
      };
      source.value.start({ record }).catch(reject);
    });
    link = source.value.status();
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    return fail('source_start', `${chiller.id}: ${reason}`);
  } finally {
    await source.value.stop();
  }
  const to = clock.now();
  return ok({ samples: table, from, to, link, otherwise: otherwiseRead(chiller.points, table) });
}

/** One pace for all, and none that reports by itself: this is one look, not a watch. */
function atPace(chiller: ChillerSite, every_s: number): ChillerSite {
  const pace = { poll_s: every_s, fast_s: every_s };
  const { source } = chiller;
  if ('modbus' in source) return { ...chiller, source: { modbus: { ...source.modbus, ...pace } } };
  // A controller at a known address is asked from any free port: the agent itself may hold the standard one.
  const port = source.bacnet.address === undefined ? {} : { port: 0 };
  return { ...chiller, source: { bacnet: { ...source.bacnet, ...pace, ...port } } };
}

function plain(points: readonly SitePoint[]): SitePoint[] {
  return points.map((point) => ({
    ...point,
    fast: false,
    address: isBacnetAddress(point.address) ? { ...point.address, cov: false } : point.address,
  }));
}

function timeoutOf({ source }: ChillerSite): number {
  return 'modbus' in source ? source.modbus.timeout_ms : source.bacnet.timeout_ms;
}

type RegisterAddress = Extract<ModbusAddress, { type: unknown }>;

/** No point's name: registers are read once however many points stand near them. */
function wordName({ unit, table }: RegisterAddress, register: number): PointName {
  return `${unit} ${table} ${register}`;
}

function registersOf(point: SitePoint): RegisterAddress | null {
  const { address } = point;
  if (isBacnetAddress(address) || !('type' in address) || address.bit !== undefined) return null;
  return address;
}

/** Every register of a wide point by itself, and its neighbours where wanted, as far as the bound on points allows. */
function wordsOf(points: readonly SitePoint[], around: boolean): SitePoint[] {
  const words = new Map<PointName, SitePoint>();
  for (const point of points) {
    const address = registersOf(point);
    if (address === null) continue;
    const width = MODBUS_TYPE_REGISTERS[address.type];
    if (width === 1 && !around) continue;
    const [first, last] = around
      ? [address.register - 1, address.register + width]
      : [address.register, address.register + width - 1];
    for (let register = Math.max(0, first); register <= Math.min(last, 0xffff); register += 1) {
      const name = wordName(address, register);
      const word: RegisterAddress = { ...address, register, type: 'uint16', order: 'ABCD' };
      words.set(name, { ...point, name, address: word, fast: false });
    }
  }
  return [...words.values()].slice(0, Math.max(0, LIMITS.points_per_chiller_max - points.length));
}

function otherwiseRead(points: readonly SitePoint[], table: SampleTable): ReadonlyMap<PointName, readonly Otherwise[]> {
  const latest = table.interval(0, Number.MAX_SAFE_INTEGER);
  return new Map(
    points.flatMap((point) => {
      const address = registersOf(point);
      if (address === null) return [];
      const word = (register: number): number | null => latest.get(wordName(address, register))?.latest?.raw ?? null;
      const own = latest.get(point.name)?.latest?.raw ?? null;
      return [[point.name, alternatives(address, own, word)]];
    }),
  );
}

/** The registers at and round an address, taken for other numbers. */
function alternatives(
  address: RegisterAddress,
  own: number | null,
  word: (register: number) => number | null,
): readonly Otherwise[] {
  const { unit, table, type, order, register } = address;
  const group = `unit ${unit} ${table}`;
  const found: Otherwise[] = [];
  const add = (code: Otherwise['code'], key: string, write: string, change: Partial<RegisterAddress>): void => {
    const changed = { ...address, ...change };
    const raw = decoded(changed, word);
    if (raw !== null) found.push({ code, key, write, raw, group: `${group} ${code === 'register' ? '' : type}` });
  };
  if (MODBUS_TYPE_REGISTERS[type] === 1) {
    const other: ModbusType = type === 'int16' ? 'uint16' : 'int16';
    // Told from the number itself: the register need not be read again.
    const raw = own === null ? null : other === 'int16' ? (own << 16) >> 16 : own & 0xffff;
    if (raw !== own && raw !== null)
      found.push({ code: 'number_type', key: 'type', write: `type: ${other}`, raw, group: `${group} ${type}` });
    for (const wide of ['float32', 'uint32'] as const)
      for (const each of ['ABCD', 'CDAB'] as const)
        add('number_type', 'type', `type: ${wide}, order: ${each}`, { type: wide, order: each });
  } else {
    for (const each of MODBUS_ORDERS.filter((one: ModbusOrder) => one !== order))
      add('word_order', 'order', `order: ${each}`, { order: each });
    for (const each of ['float32', 'uint32', 'int32'] as const)
      if (each !== type) add('number_type', 'type', `type: ${each}`, { type: each });
  }
  for (const step of [-1, 1]) {
    const write = `register ${step < 0 ? 'one lower' : 'one higher'} (a list that counts from ${step < 0 ? 1 : 0})`;
    add('register', 'register', write, { register: register + step });
  }
  return found;
}

/** Null where a register is not known or the number is none. */
function decoded(address: RegisterAddress, word: (register: number) => number | null): number | null {
  const width = MODBUS_TYPE_REGISTERS[address.type];
  const data = new Uint8Array(2 * width);
  for (let i = 0; i < width; i += 1) {
    const value = word(address.register + i);
    if (value === null) return null;
    data[2 * i] = value >> 8;
    data[2 * i + 1] = value & 0xff;
  }
  return decode(address, data, address.register);
}
