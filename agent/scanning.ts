/**
 * Looks at a bus that nobody has mapped yet: which registers answer and what they could mean, which BACnet devices
 * there are and what they hold. Reads alone, slowly, and within a bound.
 */
import { fail, ok, type Result } from './base/result.ts';
import { type FoundObject, findDevices, listObjects } from './sources/bacnet/discover.ts';
import type { FoundDevice, Whereabouts } from './sources/bacnet/find.ts';
import { BacnetPorts } from './sources/bacnet/port.ts';
import { decode } from './sources/modbus/decode.ts';
import { ModbusLines } from './sources/modbus/line.ts';
import { exceptionText, type ModbusTable } from './sources/modbus/pdu.ts';
import type { SourceMeans } from './sources/options.ts';

export interface SweepOptions {
  readonly host: string;
  readonly port: number;
  readonly unit: number;
  readonly tables: readonly ModbusTable[];
  /** First and last address, from zero. */
  readonly from: number;
  readonly to: number;
  readonly pause_ms: number;
  readonly timeout_ms: number;
  /** Most registers or bits of one request. */
  readonly block: number;
  /** Requests after which the sweep ends, wherever it stands. */
  readonly requests_max: number;
  readonly means: SourceMeans;
  readonly stop: AbortSignal;
  readonly progress: (text: string) => void;
}

/** One address that answered. */
export interface FoundRegister {
  readonly unit: number;
  readonly table: ModbusTable;
  readonly register: number;
  /** 0 to 65535; of a bit 0 or 1. */
  readonly raw: number;
  readonly int16: number | null;
  /** With the register behind it, high word first and low word first; null where that is no plausible number. */
  readonly float_ABCD: number | null;
  readonly float_CDAB: number | null;
}

export interface Sweep {
  readonly registers: readonly FoundRegister[];
  readonly requests: number;
  /** Why it ended before its end, or null. */
  readonly ended: string | null;
}

/** Fails where nothing at all answers. */
export async function sweepModbus(options: SweepOptions): Promise<Result<Sweep>> {
  const { means, stop } = options;
  const line = new ModbusLines(means).at(options);
  const owner = {};
  line.attach(owner);
  const release = (): void => void line.release(owner);
  stop.addEventListener('abort', release, { once: true });
  try {
    const sweep: Sweeping = { line, owner, requests: 0, ended: null };
    const registers: FoundRegister[] = [];
    for (const table of options.tables) {
      const words = await sweepTable(table, options, sweep);
      registers.push(...[...words].map(([register, raw]) => meanings({ ...options, table, register, raw, words })));
      if (sweep.ended !== null) break;
    }
    const { requests, ended } = sweep;
    if (registers.length === 0 && ended !== null) return fail('controller_silent', ended);
    return ok({ registers, requests, ended });
  } finally {
    stop.removeEventListener('abort', release);
    await line.release(owner);
  }
}

interface Sweeping {
  readonly line: ReturnType<ModbusLines['at']>;
  readonly owner: object;
  requests: number;
  ended: string | null;
}

/** Addresses that answer, with what they hold. A refused block is taken apart: some controllers refuse for one hole. */
async function sweepTable(
  table: ModbusTable,
  options: SweepOptions,
  sweep: Sweeping,
): Promise<ReadonlyMap<number, number>> {
  const { unit, from, to, block, timeout_ms: timeoutMs, pause_ms: pauseMs } = options;
  const words = new Map<number, number>();
  const bits = table === 'coil' || table === 'discrete';
  const todo: { register: number; count: number }[] = [];
  for (let register = from; register <= to; register += block)
    todo.push({ register, count: Math.min(block, to - register + 1) });
  for (let part = todo.shift(); part !== undefined; part = todo.shift()) {
    if (options.stop.aborted) sweep.ended = `stopped at ${table} ${part.register}`;
    if (sweep.requests >= options.requests_max)
      sweep.ended = `${options.requests_max} requests are spent at ${table} ${part.register}: go on from there with --from`;
    if (sweep.ended !== null) return words;
    sweep.requests += 1;
    const { register, count } = part;
    const request = { table, register, count };
    const outcome = await sweep.line.read({ owner: sweep.owner, unit, request, timeoutMs, pauseMs });
    if (outcome.kind === 'stopped') sweep.ended = `stopped at ${table} ${register}`;
    else if (outcome.kind === 'failed') sweep.ended = `unit ${unit} at ${table} ${register}: ${outcome.reason}`;
    else if (outcome.kind === 'exception') {
      if (outcome.code === 1) {
        options.progress(`${table}: ${exceptionText(1)}: the controller has no such table`);
        return words;
      }
      if (count > 1) todo.unshift(...halves(part));
    } else {
      options.progress(`${table} ${register} to ${register + count - 1} answer`);
      for (let i = 0; i < count; i += 1) words.set(register + i, valueAt(outcome.data, i, bits));
    }
    if (sweep.ended !== null) return words;
  }
  return words;
}

function halves({ register, count }: { readonly register: number; readonly count: number }) {
  const first = Math.ceil(count / 2);
  return [
    { register, count: first },
    { register: register + first, count: count - first },
  ];
}

function valueAt(data: Uint8Array, index: number, bits: boolean): number {
  if (bits) return ((data[index >> 3] as number) >> (index & 7)) & 1;
  return ((data[2 * index] as number) << 8) | (data[2 * index + 1] as number);
}

/** Floats that a chiller's controller could mean: neither dust nor astronomy. */
const FLOAT_RANGE = [1e-3, 1e7] as const;

function meanings(found: {
  readonly unit: number;
  readonly table: ModbusTable;
  readonly register: number;
  readonly raw: number;
  readonly words: ReadonlyMap<number, number>;
}): FoundRegister {
  const { unit, table, register, raw, words } = found;
  const behind = words.get(register + 1);
  const bits = table === 'coil' || table === 'discrete';
  const float = (order: 'ABCD' | 'CDAB'): number | null => {
    if (bits || behind === undefined) return null;
    const data = Uint8Array.of(raw >> 8, raw & 0xff, behind >> 8, behind & 0xff);
    const value = decode({ unit, table, register, type: 'float32', order }, data, register);
    if (value === null) return null;
    const size = Math.abs(value);
    return size >= FLOAT_RANGE[0] && size <= FLOAT_RANGE[1] ? value : null;
  };
  return {
    unit,
    table,
    register,
    raw,
    int16: bits ? null : (raw << 16) >> 16,
    float_ABCD: float('ABCD'),
    float_CDAB: float('CDAB'),
  };
}

export interface FoundController {
  readonly device: FoundDevice;
  /** host:port of the device or of the router before it. */
  readonly address: string;
  readonly network: number | null;
  readonly objects: readonly FoundObject[];
  /** Why its objects cannot be listed, or null. */
  readonly trouble: string | null;
}

export interface BacnetScanOptions {
  readonly where: Whereabouts;
  readonly interface: string;
  readonly port: number;
  readonly low: number;
  readonly high: number;
  readonly means: SourceMeans;
  readonly stop: AbortSignal;
  readonly progress: (text: string) => void;
}

/** Devices that answer Who-Is, one after the other with its objects. Fails where the port cannot be had. */
export async function scanBacnet(options: BacnetScanOptions): Promise<Result<FoundController[]>> {
  const { where, low, high, means, stop, progress } = options;
  const port = new BacnetPorts(means).at(options);
  const owner = {};
  try {
    await port.attach(owner);
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    return fail('source_start', `${options.interface}:${options.port} cannot be bound: ${reason}`);
  }
  try {
    const found = await findDevices({ port, where, low, high, timers: means.timers, signal: stop });
    if (!found.ok) return fail('bacnet_not_found', found.fault);
    const controllers: FoundController[] = [];
    for (const device of found.value) {
      if (stop.aborted) break;
      progress(`device ${device.instance}: reading its list of objects`);
      const listed = await listObjects({ port, device, timeoutMs: where.timeout_ms, ...means });
      controllers.push({
        device,
        address: `${device.address.host}:${device.address.port}`,
        network: device.address.network,
        objects: listed.ok ? listed.value : [],
        trouble: listed.ok ? null : listed.fault,
      });
    }
    return ok(controllers);
  } finally {
    await port.release(owner);
  }
}
