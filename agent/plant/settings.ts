/** The options of the verb `plant`, checked. */
import { parseArgs } from 'node:util';
import { fail, ok, type Result } from '../base/result.ts';
import { parseRfc3339 } from '../base/time.ts';
import { MACHINES } from './kestrel-quay/machines.ts';

const SPEED_MAX = 100_000;
const DAY = 86_400;

export interface Address {
  readonly host: string;
  readonly port: number;
}

export interface Settings {
  readonly machine: string;
  readonly seed: number;
  readonly speed: number;
  readonly start: number;
  /** Seconds by which the day of load and weather runs ahead of the clock. */
  readonly dayShift: number;
  /** Infinity: until stopped. */
  readonly duration: number;
  /** Where its controller serves; null: headless. */
  readonly served: Address | null;
  readonly faults: readonly string[];
  readonly truth: string | undefined;
  readonly record: string | undefined;
  readonly redraw: boolean;
  readonly points: boolean;
  readonly untilEof: boolean;
}

const OPTIONS = {
  chiller: { type: 'string' },
  modbus: { type: 'string' },
  bacnet: { type: 'string' },
  seed: { type: 'string' },
  speed: { type: 'string' },
  start: { type: 'string' },
  hour: { type: 'string' },
  duration: { type: 'string' },
  fault: { type: 'string', multiple: true },
  truth: { type: 'string' },
  record: { type: 'string' },
  redraw: { type: 'boolean' },
  points: { type: 'boolean' },
  'until-eof': { type: 'boolean' },
  help: { type: 'boolean' },
} as const;

export type Flags = ReturnType<typeof readFlags>;

/** Throws on options that are not there. */
export function readFlags(args: readonly string[]) {
  return parseArgs({ args: [...args], options: OPTIONS, strict: true, allowPositionals: false }).values;
}

function readNumber(name: string, text: string | undefined, bounds: readonly [number, number]): Result<number | null> {
  if (text === undefined) return ok(null);
  const value = Number(text);
  const [low, high] = bounds;
  if (text.trim() === '' || !(value >= low && value <= high))
    return fail('usage', `--${name} ${text}: give a number from ${low} to ${high}`);
  return ok(value);
}

function readAddress(flag: 'modbus' | 'bacnet', text: string): Result<Address> {
  const at = text.lastIndexOf(':');
  const host = text.slice(0, at).replace(/^\[|\]$/g, '');
  const port = Number(text.slice(at + 1));
  const example = flag === 'modbus' ? '127.0.0.1:1502 or 127.0.0.1:0' : '127.0.0.2:47808 or 127.0.0.2:0';
  if (at < 1 || host === '' || text.endsWith(':') || !Number.isInteger(port) || port < 0 || port > 65_535)
    return fail('usage', `--${flag} ${text}: write HOST:PORT, such as ${example}`);
  if (flag === 'bacnet' && !/^\d{1,3}(?:\.\d{1,3}){3}$/.test(host))
    return fail('usage', `--${flag} ${text}: write HOST:PORT with an IPv4 address of this machine, such as ${example}`);
  return ok({ host, port });
}

/** The address given for the bus that the machine's controller speaks; null: none. */
function readServed(machine: string, flags: Flags): Result<Address | null> {
  const [own, other] =
    MACHINES[machine]!.bacnet === null ? (['modbus', 'bacnet'] as const) : (['bacnet', 'modbus'] as const);
  if (flags[other] !== undefined)
    return fail('usage', `--${other} ${flags[other]}: the controller of ${machine} serves --${own}`);
  const text = flags[own];
  return text === undefined ? ok(null) : readAddress(own, text);
}

/** `now`: ms since the epoch, where no start is given. */
export function readSettings(flags: Flags, now: number): Result<Settings> {
  const machine = flags.chiller;
  const known = Object.keys(MACHINES).join(', ');
  if (machine === undefined) return fail('usage', `--chiller is missing; it is one of ${known}`);
  if (!Object.hasOwn(MACHINES, machine)) return fail('usage', `--chiller ${machine}: there is only ${known}`);
  const seed = readNumber('seed', flags.seed, [0, 2 ** 31 - 1]);
  if (!seed.ok) return seed;
  const speed = readNumber('speed', flags.speed, [1e-3, SPEED_MAX]);
  if (!speed.ok) return speed;
  const duration = readNumber('duration', flags.duration, [1, 1e9]);
  if (!duration.ok) return duration;
  const hour = readNumber('hour', flags.hour, [0, 24]);
  if (!hour.ok) return hour;
  const start = flags.start === undefined ? now : parseRfc3339(flags.start);
  if (start === null) return fail('usage', `--start ${flags.start}: write it like 2026-07-01T12:00:00Z`);
  const served = readServed(machine, flags);
  if (!served.ok) return served;
  const idle = served.value === null && duration.value === null;
  return ok({
    machine,
    seed: Math.floor(seed.value ?? 1),
    speed: speed.value ?? 1,
    start,
    dayShift: hour.value === null ? 0 : Math.round(hour.value * 3600 - ((start / 1000) % DAY)),
    duration: Math.floor(duration.value ?? Number.POSITIVE_INFINITY),
    served: idle ? { host: MACHINES[machine]!.host, port: 0 } : served.value,
    faults: flags.fault ?? [],
    truth: flags.truth,
    record: flags.record,
    redraw: flags.redraw ?? false,
    points: flags.points ?? false,
    untilEof: flags['until-eof'] ?? false,
  });
}
