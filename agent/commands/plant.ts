/** `plant`: the emulated plant, as its own process: serves a controller, or runs headless into files. */
import { closeSync, openSync, writeSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { fail, ok, type Result } from '../base/result.ts';
import { parseRfc3339 } from '../base/time.ts';
import { FAULTS, type PlantFault, readFault } from '../plant/faults.ts';
import { MACHINES } from '../plant/kestrel-quay/machines.ts';
import type { Machine } from '../plant/machine.ts';
import { MinuteRecord, MinuteTruth } from '../plant/minutes.ts';
import { ModbusServer } from '../plant/modbus-server.ts';
import { pace } from '../plant/pace.ts';
import { Plant } from '../plant/plant.ts';
import { describePoint } from '../plant/point-map.ts';
import { RegisterImage } from '../plant/registers.ts';
import type { Command, CommandIo } from './io.ts';

const SPEED_MAX = 100_000;
const DAY = 86_400;

const faultHelp = Object.entries(FAULTS).map(([name, kind]) => {
  const target = { none: '', point: '/POINT', float_point: '/POINT', bacnet_point: '/POINT', valve: '/VALVE' }[
    kind.target
  ];
  return `  ${`${name}${target}`.padEnd(30)} ${kind.meaning}; severity: ${kind.severity}`;
});

const usage = `tonhour plant --chiller NAME [options]

Emulates a chiller plant. Without --modbus and --duration it serves on 127.0.0.1, a free port. Prints {"modbus":"HOST:PORT"} once it listens.

  --chiller NAME          one of ${Object.keys(MACHINES).join(', ')}
  --modbus HOST:PORT      serve Modbus TCP there; port 0: a free one
  --seed N                sensors, load and weather (default 1)
  --speed N               plant seconds per real second while serving (default 1)
  --start RFC3339         the plant's clock at the start (default: now)
  --duration S            end after so many plant seconds; without --modbus as fast as it goes
  --fault NAME[/TARGET]:SEVERITY@START[..END]   may be given again; START and END in plant seconds after the start
  --truth FILE            NDJSON {t, points, metrics} a minute: true values, catalogue units
  --record FILE           NDJSON {time, points:{name:{value,unit,u}}} a minute: what the sensors showed, as 'solve' reads it
  --redraw                in --record, draw every sensor's offset anew each minute
  --until-eof             end when standard input ends: a plant started with a pipe never outlives who started it
  --hour H                shift the day of load and weather so that it is H o'clock now (0 to 24); the clock itself stays true
  --points                print the point map, one NDJSON line a point, and end

Faults:
${faultHelp.join('\n')}
`;

interface Settings {
  readonly machine: string;
  readonly seed: number;
  readonly speed: number;
  readonly start: number;
  /** Infinity: until stopped. */
  readonly duration: number;
  readonly modbus: { readonly host: string; readonly port: number } | null;
  readonly faults: readonly string[];
  readonly truth: string | undefined;
  readonly record: string | undefined;
  readonly redraw: boolean;
  readonly points: boolean;
  readonly untilEof: boolean;
  /** Seconds by which the day of load and weather runs ahead of the clock. */
  readonly dayShift: number;
}

const OPTIONS = {
  chiller: { type: 'string' },
  modbus: { type: 'string' },
  seed: { type: 'string' },
  speed: { type: 'string' },
  start: { type: 'string' },
  duration: { type: 'string' },
  fault: { type: 'string', multiple: true },
  truth: { type: 'string' },
  record: { type: 'string' },
  redraw: { type: 'boolean' },
  points: { type: 'boolean' },
  'until-eof': { type: 'boolean' },
  hour: { type: 'string' },
  help: { type: 'boolean' },
} as const;

function readFlags(args: readonly string[]) {
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

function readAddress(text: string): Result<{ host: string; port: number }> {
  const at = text.lastIndexOf(':');
  const host = text.slice(0, at).replace(/^\[|\]$/g, '');
  const port = Number(text.slice(at + 1));
  if (at < 1 || host === '' || text.endsWith(':') || !Number.isInteger(port) || port < 0 || port > 65_535)
    return fail('usage', `--modbus ${text}: write HOST:PORT, such as 127.0.0.1:1502 or 127.0.0.1:0`);
  return ok({ host, port });
}

function readSettings(flags: ReturnType<typeof readFlags>, now: number): Result<Settings> {
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
  const start = flags.start === undefined ? now : parseRfc3339(flags.start);
  if (start === null) return fail('usage', `--start ${flags.start}: write it like 2026-07-01T12:00:00Z`);
  const hour = readNumber('hour', flags.hour, [0, 24]);
  if (!hour.ok) return hour;
  const modbus = flags.modbus === undefined ? null : readAddress(flags.modbus);
  if (modbus !== null && !modbus.ok) return modbus;
  const served = modbus === null && duration.value === null ? { host: '127.0.0.1', port: 0 } : (modbus?.value ?? null);
  return ok({
    machine,
    seed: Math.floor(seed.value ?? 1),
    speed: speed.value ?? 1,
    start,
    duration: Math.floor(duration.value ?? Number.POSITIVE_INFINITY),
    modbus: served,
    faults: flags.fault ?? [],
    truth: flags.truth,
    record: flags.record,
    redraw: flags.redraw ?? false,
    points: flags.points ?? false,
    untilEof: flags['until-eof'] ?? false,
    dayShift: hour.value === null ? 0 : Math.round(hour.value * 3600 - ((start / 1000) % DAY)),
  });
}

function readFaults(texts: readonly string[], machine: Machine): Result<PlantFault[]> {
  const faults: PlantFault[] = [];
  for (const text of texts) {
    const fault = readFault(text, machine.points);
    if (!fault.ok) return fault;
    faults.push(fault.value);
  }
  return ok(faults);
}

/** Files that get a line a minute; all closed at the end. */
class LineFiles {
  private readonly open: number[] = [];

  add(path: string): (line: Record<string, unknown>) => void {
    const file = openSync(path, 'w');
    this.open.push(file);
    return (line) => void writeSync(file, `${JSON.stringify(line)}\n`);
  }

  close(): void {
    for (const file of this.open.splice(0)) closeSync(file);
  }
}

const CLOCK = { now: () => Date.now(), monotonic: () => performance.now() };

/** Aborted when the caller asks or, where that is wanted, when standard input ends or fails. */
function whenToStop(io: CommandIo, untilEof: boolean): { readonly signal: AbortSignal; release(): void } {
  if (!untilEof) return { signal: io.stop, release: () => {} };
  const ended = new AbortController();
  const end = (): void => ended.abort();
  const events = ['end', 'close', 'error'] as const;
  for (const event of events) io.in.once(event, end);
  if (io.in.readableEnded || io.in.destroyed) end();
  // What is written there is of no interest; without reading on, the end would never be seen.
  io.in.resume();
  return {
    signal: AbortSignal.any([io.stop, ended.signal]),
    release: () => {
      for (const event of events) io.in.off(event, end);
      io.in.pause();
    },
  };
}

async function serveOrRun(plant: Plant, settings: Settings, io: CommandIo, stop: AbortSignal): Promise<void> {
  const { modbus, speed, duration } = settings;
  if (modbus === null) {
    await pace(plant, { clock: CLOCK, stop, speed: null, duration });
    return;
  }
  const image = new RegisterImage(plant.machine.points);
  image.update(plant.sensors.values());
  const server = new ModbusServer(image, modbus);
  await server.start();
  try {
    await server.communicate(plant.communication);
    io.out.write(`${JSON.stringify({ modbus: `${server.host}:${server.port}` })}\n`);
    await pace(plant, {
      clock: CLOCK,
      stop,
      speed,
      duration,
      after: async () => {
        image.update(plant.sensors.values());
        await server.communicate(plant.communication);
      },
    });
  } finally {
    await server.stop();
  }
}

export const command: Command = {
  summary: 'The emulated plant: a controller to poll, with the truth beside it',
  usage,
  async run(args, io) {
    const wrong = (message: string): number => {
      io.err.write(`tonhour plant: ${message}\n`);
      return 2;
    };
    let flags: ReturnType<typeof readFlags>;
    try {
      flags = readFlags(args);
    } catch (error) {
      return wrong(`${error instanceof Error ? error.message : 'the call is not understood'}; see --help`);
    }
    if (flags.help === true) {
      io.out.write(usage);
      return 0;
    }
    const settings = readSettings(flags, CLOCK.now());
    if (!settings.ok) return wrong(settings.fault.message);
    const { machine: name, seed, start, dayShift, truth, record, redraw } = settings.value;
    const machine = MACHINES[name]!.build(seed);
    if (settings.value.points) {
      for (const point of machine.points) io.out.write(`${JSON.stringify(describePoint(point))}\n`);
      return 0;
    }
    const faults = readFaults(settings.value.faults, machine);
    if (!faults.ok) return wrong(faults.fault.message);
    const files = new LineFiles();
    const stop = whenToStop(io, settings.value.untilEof);
    try {
      const plant = new Plant({ machine, seed, start, dayShift, faults: faults.value });
      if (truth !== undefined) plant.listeners.push(new MinuteTruth(files.add(truth)));
      if (record !== undefined) plant.listeners.push(new MinuteRecord(files.add(record), { redraw }));
      await serveOrRun(plant, settings.value, io, stop.signal);
      return 0;
    } catch (error) {
      if (!(error instanceof Error) || !('syscall' in error)) throw error;
      // A file or an address that cannot be had: the person's to put right.
      io.err.write(`tonhour plant: ${error.message}\n`);
      return 1;
    } finally {
      stop.release();
      files.close();
    }
  },
};
