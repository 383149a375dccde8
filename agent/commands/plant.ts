/** `plant`: the emulated plant, as its own process: serves a controller, or runs headless into files. */
import { closeSync, openSync, writeSync } from 'node:fs';
import { ok, type Result } from '../base/result.ts';
import { FAULTS, type PlantFault, readFault } from '../plant/faults.ts';
import { MACHINES } from '../plant/kestrel-quay/machines.ts';
import type { Machine } from '../plant/machine.ts';
import { MinuteRecord, MinuteTruth } from '../plant/minutes.ts';
import { pace } from '../plant/pace.ts';
import { Plant } from '../plant/plant.ts';
import { describePoint } from '../plant/point-map.ts';
import { serverOf } from '../plant/serve.ts';
import { type Flags, readFlags, readSettings, type Settings } from '../plant/settings.ts';
import type { Command, CommandIo } from './io.ts';

const faultHelp = Object.entries(FAULTS).map(([name, kind]) => {
  const target = { none: '', point: '/POINT', float_point: '/POINT', bacnet_point: '/POINT', valve: '/VALVE' };
  return `  ${`${name}${target[kind.target]}`.padEnd(30)} ${kind.meaning}; severity: ${kind.severity}`;
});

const usage = `tonhour plant --chiller NAME [options]

Emulates a chiller plant. Without an address and --duration it serves on a loopback address, a free port. Prints {"modbus":"HOST:PORT"} or
{"bacnet":"HOST:PORT","device":INSTANCE} once it serves.

  --chiller NAME          one of ${Object.keys(MACHINES).join(', ')}
  --modbus HOST:PORT      CH-1: serve Modbus TCP there; port 0: a free one
  --bacnet HOST:PORT      CH-2: serve BACnet/IP there, best on an address of its own such as 127.0.0.2; port 0: a free one
  --seed N                sensors, load and weather (default 1)
  --speed N               plant seconds per real second while serving (default 1)
  --start RFC3339         the plant's clock at the start (default: now)
  --hour H                shift the day of load and weather so that it is H o'clock at the start (0 to 24); the clock itself stays true
  --duration S            end after so many plant seconds; without an address as fast as it goes
  --until-eof             end when standard input ends: a plant started with a pipe never outlives who started it
  --fault NAME[/TARGET]:SEVERITY@START[..END]   may be given again; START and END in plant seconds after the start
  --truth FILE            NDJSON {t, points, metrics} a minute: true values, catalogue units
  --record FILE           NDJSON {time, points:{name:{value,unit,u}}} a minute: what the sensors showed, as 'solve' reads it
  --redraw                in --record, draw every sensor's offset anew each minute
  --points                print the point map, one NDJSON line a point, and end

Faults; severity 0 is none:
${faultHelp.join('\n')}
`;

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
  const { served, speed, duration } = settings;
  if (served === null) {
    await pace(plant, { clock: CLOCK, stop, speed: null, duration });
    return;
  }
  const server = serverOf(plant, served, CLOCK.monotonic);
  await server.start();
  try {
    io.out.write(`${JSON.stringify(server.described())}\n`);
    await pace(plant, { clock: CLOCK, stop, speed, duration, after: () => server.update() });
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
    let flags: Flags;
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
