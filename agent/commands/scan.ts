/** `scan`: what a bus holds before anybody has mapped it, and a draft of the site file. */
import { writeFile } from 'node:fs/promises';
import { networkInterfaces } from 'node:os';
import { parseArgs } from 'node:util';
import type { Result } from '../base/result.ts';
import { type FoundController, scanBacnet, sweepModbus } from '../scanning.ts';
import { BACNET_INSTANCE_MAX, BACNET_PORT } from '../site/buses/bacnet.ts';
import { draftSite } from '../site/draft.ts';
import { suggestPoints } from '../site/suggest.ts';
import { systemTimers } from '../sources/timers.ts';
import type { Command, CommandIo } from './io.ts';
import { controllersText, registersText } from './scan-text.ts';

const TABLES = ['holding', 'input', 'coil', 'discrete'] as const;
type Table = (typeof TABLES)[number];

export const command: Command = {
  summary: 'Finds what a bus holds and drafts a site file',
  usage: `tonhour scan --modbus HOST[:PORT] [options]     which registers answer, and what they could mean
tonhour scan --bacnet [options]                 which BACnet devices there are, and their objects

It only reads, slowly. Reading is still a load: ask who looks after the controls first, and do not scan a machine that is in trouble.

Modbus:
  --unit N           unit number (default 1)
  --table NAME       holding, input, coil or discrete; may be given again (default holding and input)
  --from R, --to R   first and last address, counted from zero (default 0 and 999)
  --pause MS         rest between two requests (default 250, at least 50)
  --block N          most registers of one request (default 50)
  --requests N       end after so many requests (default 400): a list full of holes is long

BACnet/IP:
  --interface IP     address of this machine on the controls network (default: all)
  --broadcast IP     where Who-Is goes, such as 10.0.0.255 (default: that of the interface)
  --address IP[:PORT]  ask this device or router alone
  --network N        network behind a router
  --range LOW-HIGH   instances (default all)
  --port N           UDP port of this machine (default ${BACNET_PORT}; with --address any free one)

Both:
  --timeout MS       wait for a reply (default 1000; BACnet 3000)
  --draft FILE       write a site file to complete; what a person must decide has a '?' in a comment. Never overwrites
  --json             NDJSON: one register, or one device, a line

Exit code 0: something was found. 1: nothing, or no answer. 2: wrong call.
`,
  async run(args, io) {
    const flags = readFlags(args);
    if (typeof flags === 'string') {
      io.err.write(`tonhour scan: ${flags}\n\n${command.usage}`);
      return 2;
    }
    return flags.modbus === undefined ? bacnet(flags, io) : modbus(flags, flags.modbus, io);
  },
};

const OPTIONS = {
  modbus: { type: 'string' },
  bacnet: { type: 'boolean' },
  unit: { type: 'string' },
  table: { type: 'string', multiple: true },
  from: { type: 'string' },
  to: { type: 'string' },
  pause: { type: 'string' },
  block: { type: 'string' },
  requests: { type: 'string' },
  interface: { type: 'string' },
  broadcast: { type: 'string' },
  address: { type: 'string' },
  network: { type: 'string' },
  range: { type: 'string' },
  port: { type: 'string' },
  timeout: { type: 'string' },
  draft: { type: 'string' },
  json: { type: 'boolean' },
} as const;

interface Flags {
  readonly modbus: { readonly host: string; readonly port: number } | undefined;
  readonly unit: number;
  readonly tables: readonly Table[];
  readonly from: number;
  readonly to: number;
  readonly pause: number;
  readonly block: number;
  readonly requests: number;
  readonly interface: string;
  readonly broadcast: string | undefined;
  readonly address: string | undefined;
  readonly network: number | undefined;
  readonly low: number;
  readonly high: number;
  readonly port: number;
  readonly timeout: number;
  readonly draft: string | undefined;
  readonly json: boolean;
}

function readFlags(args: readonly string[]): Flags | string {
  let given: ReturnType<typeof parse>;
  try {
    given = parse(args);
  } catch (error) {
    return error instanceof Error ? error.message : 'the call is not understood';
  }
  if ((given.modbus === undefined) === (given.bacnet !== true)) return 'say either --modbus HOST or --bacnet';
  const wrong: string[] = [];
  const number = (name: keyof typeof OPTIONS, preset: number, [low, high]: readonly [number, number]): number => {
    const text = given[name];
    const value = text === undefined ? preset : Number(text);
    if (!Number.isInteger(value) || value < low || value > high)
      wrong.push(`--${name} ${text}: a whole number from ${low} to ${high}`);
    return value;
  };
  const tables = (given.table ?? ['holding', 'input']) as Table[];
  const strange = tables.find((each) => !TABLES.includes(each));
  if (strange !== undefined) wrong.push(`--table ${strange}: one of ${TABLES.join(', ')}`);
  const at = /^(.+?)(?::(\d{1,5}))?$/.exec(given.modbus ?? '');
  const range = /^(\d+)-(\d+)$/.exec(given.range ?? `0-${BACNET_INSTANCE_MAX}`);
  if (range === null) wrong.push(`--range ${given.range}: write LOW-HIGH, such as 1000-1999`);
  const flags: Flags = {
    modbus: at === null ? undefined : { host: at[1] as string, port: Number(at[2] ?? 502) },
    unit: number('unit', 1, [1, 255]),
    tables,
    from: number('from', 0, [0, 65_535]),
    to: number('to', Math.min(65_535, Number(given.from ?? 0) + 999), [0, 65_535]),
    pause: number('pause', 250, [50, 10_000]),
    block: number('block', 50, [1, 125]),
    requests: number('requests', 400, [1, 100_000]),
    interface: given.interface ?? '0.0.0.0',
    broadcast: given.broadcast,
    address: given.address,
    network: given.network === undefined ? undefined : number('network', 1, [1, 65_534]),
    low: Number(range?.[1] ?? 0),
    high: Number(range?.[2] ?? BACNET_INSTANCE_MAX),
    port: number('port', given.address === undefined ? BACNET_PORT : 0, [0, 65_535]),
    timeout: number('timeout', given.modbus === undefined ? 3000 : 1000, [50, 30_000]),
    draft: given.draft,
    json: given.json ?? false,
  };
  if (flags.from > flags.to) wrong.push('--from must not be above --to');
  return wrong[0] ?? flags;
}

function parse(args: readonly string[]) {
  return parseArgs({ args: [...args], options: OPTIONS }).values;
}

const MEANS = {
  clock: { now: () => Date.now(), monotonic: () => performance.now() },
  timers: systemTimers,
  random: Math.random,
  log: { info: () => {}, warn: () => {} },
} as const;

async function modbus(flags: Flags, at: NonNullable<Flags['modbus']>, io: CommandIo): Promise<number> {
  const seconds = Math.ceil(((flags.to - flags.from + 1) / flags.block) * flags.tables.length * (flags.pause / 1000));
  io.err.write(
    `reading ${flags.tables.join(' and ')} ${flags.from} to ${flags.to} of unit ${flags.unit}: at least ${seconds} s\n`,
  );
  const swept = await sweepModbus({
    ...at,
    unit: flags.unit,
    tables: flags.tables,
    from: flags.from,
    to: flags.to,
    pause_ms: flags.pause,
    timeout_ms: flags.timeout,
    block: flags.block,
    requests_max: flags.requests,
    means: MEANS,
    stop: io.stop,
    progress: (text) => io.err.write(`${text}\n`),
  });
  if (!swept.ok) {
    io.err.write(`tonhour scan: nothing answers: ${swept.fault.message}\n`);
    return 1;
  }
  const { registers, requests, ended } = swept.value;
  if (flags.json) for (const register of registers) io.out.write(`${JSON.stringify(register)}\n`);
  else io.out.write(registersText(registers));
  io.err.write(`${registers.length} addresses answered ${requests} requests${ended === null ? '' : `; ${ended}`}\n`);
  const source = `modbus: { host: ${at.host}, port: ${at.port} }`;
  const about = `unit ${flags.unit}; its registers have no names: take them from the controller's point list`;
  const drafted = await draft(flags, [{ source, about, suggestions: { points: [], others: [] } }], io);
  return registers.length === 0 || !drafted ? 1 : 0;
}

async function bacnet(flags: Flags, io: CommandIo): Promise<number> {
  const broadcast = flags.broadcast ?? (flags.address === undefined ? broadcastOf(flags.interface) : undefined);
  if (flags.address === undefined && broadcast === undefined) {
    io.err.write(`tonhour scan: which network? give --interface or --broadcast; this machine has ${ownAddresses()}\n`);
    return 2;
  }
  io.err.write(`asking ${flags.address ?? broadcast} for devices, ${flags.timeout / 1000} s\n`);
  const found = await scanBacnet({
    where: {
      timeout_ms: flags.timeout,
      ...(flags.address === undefined ? {} : { address: flags.address }),
      ...(broadcast === undefined ? {} : { broadcast }),
      ...(flags.network === undefined ? {} : { network: flags.network }),
    },
    interface: flags.interface,
    port: flags.port,
    low: flags.low,
    high: flags.high,
    means: MEANS,
    stop: io.stop,
    progress: (text) => io.err.write(`${text}\n`),
  });
  if (!found.ok) return complain(found, io);
  if (flags.json) for (const each of found.value) io.out.write(`${JSON.stringify(asJson(each))}\n`);
  else io.out.write(controllersText(found.value));
  const controllers = found.value.map((each) => ({
    source: `bacnet: { device: ${each.device.instance}, address: ${each.address}${each.network === null ? '' : `, network: ${each.network}`} }`,
    about: `device ${each.device.instance}, vendor number ${each.device.vendor}`,
    suggestions: suggestPoints(each.objects),
  }));
  const drafted = await draft(flags, controllers, io);
  return found.value.length === 0 || !drafted ? 1 : 0;
}

function complain(found: Extract<Result<unknown>, { ok: false }>, io: CommandIo): number {
  io.err.write(`tonhour scan: ${found.fault.message}\n`);
  return 1;
}

/** False where it was wanted and could not be written. */
async function draft(flags: Flags, controllers: Parameters<typeof draftSite>[0], io: CommandIo): Promise<boolean> {
  if (flags.draft === undefined || controllers.length === 0) return true;
  try {
    await writeFile(flags.draft, draftSite(controllers), { flag: 'wx' });
    io.err.write(`${flags.draft} is a draft: decide every '?', then run tonhour check --config ${flags.draft}\n`);
    return true;
  } catch (error) {
    const exists = (error as NodeJS.ErrnoException).code === 'EEXIST';
    const reason = exists ? 'it is there already, and is not overwritten' : (error as Error).message;
    io.err.write(`tonhour scan: ${flags.draft} was not written: ${reason}\n`);
    return false;
  }
}

function asJson({ device, address, network, objects, trouble }: FoundController): object {
  const { instance, vendor } = device;
  return { device: instance, vendor, address, network, trouble, objects };
}

interface OwnAddress {
  readonly address: string;
  readonly netmask: string;
}

function own(): OwnAddress[] {
  return Object.values(networkInterfaces()).flatMap((all) => (all ?? []).filter(({ family }) => family === 'IPv4'));
}

function ownAddresses(): string {
  return own()
    .map(({ address }) => address)
    .join(', ');
}

/** Directed broadcast address of an interface; of the only one that is not loopback where none is named. */
function broadcastOf(address: string): string | undefined {
  const outside = own().filter((each) => !each.address.startsWith('127.'));
  const [only, ...more] = address === '0.0.0.0' ? outside : own().filter((each) => each.address === address);
  if (only === undefined || more.length > 0) return undefined;
  const mask = only.netmask.split('.').map(Number);
  return only.address
    .split('.')
    .map((part, index) => Number(part) | (~(mask[index] as number) & 0xff))
    .join('.');
}
